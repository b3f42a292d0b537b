; Program of the Marram tide recorder, 2 KiB at F800h.
;
; INVENTED: the Marram, the Quill printers, their makers, people and data exist only for the
; demonstration of Latchlore.  No existing machine's addresses, codes or layout were used.
;
; Assemble with ca65 and link with ld65 (Debian package cc65): see the script `build` beside this file.
; MIT licence, as the rest of the project.

        .setcpu "6502"

; --- the printer card; addresses are mirrors of A808h and A810h, as the first author typed them
DATA    = $B808         ; write: the byte for the printer
CONTROL = $B810         ; write: bit 0 = 1 strobe on, bit 1 = 1 printer awake, bit 2 = 1 feed key held
STATUS  = $B810         ; read:  see below
STATUSL = $AA17         ; read:  the same register; the line routine's author counted differently

STRAPS  = %00000011     ; bits 0 and 1: straps W1 and W2, open = 1
IDENT   = %00011000     ; bits 3 and 4: 1 and 0 on this card
IDENTOK = %00001000
PAPER   = %00100000     ; bit 5: 1 = out of paper
READY   = %01000000     ; bit 6: 1 = not busy
                        ; bit 7: 1 = no fault

CTLON   = %00000011     ; awake, strobe on
CTLOFF  = %00000010     ; awake, strobe off
CTLHELD = %00000000     ; printer held in its reset

; --- the recorder's own inputs, on its main board
TIDELO  = $E200         ; read: hundredths of a metre, two decimal digits
TIDEHI  = $E201         ; read: metres, two decimal digits
TIDEFL  = $E202         ; read: bit 7 = the minute has struck, bit 0 = water rising

; --- memory
ptr     = $10           ; and $11: where the burst lies
column  = $12           ; characters printed on this line, 0 to 23
sour    = $13           ; 1 after a line was given up
hold    = $14           ; the byte on its way out
place   = $15           ; position in the line
line    = $0200         ; the line under construction, 24 characters
WIDTH   = 24

LEAD    = $16           ; first byte of the printer's two-byte orders
CR      = $0D
LF      = $0A
ENDMARK = $FF           ; ends a burst

        .segment "CODE"

; ---------------------------------------------------------------- reset
reset:  sei
        cld
        ldx #$FF
        txs
        lda #0
        sta column
        sta sour
        jsr blank
        lda STATUS              ; is the card there?
        and #IDENT
        cmp #IDENTOK
        bne alone
        jsr wake
        jmp main
alone:  jmp alone               ; without the card the pen draws on by clockwork

; ---------------------------------------------------------------- wake the printer and send the burst
wake:   lda #CTLHELD
        sta CONTROL
        ldy #20                 ; about 20 ms in its reset
held:   ldx #250
held1:  dex
        bne held1
        dey
        bne held
        lda #CTLOFF
        sta CONTROL
        lda STATUS
        and #STRAPS
        cmp #1
        beq straps1
        cmp #2
        beq straps2
        lda #<plain             ; both joined or both open
        ldx #>plain
        bne burst
straps1:
        lda #<tight             ; W2 joined
        ldx #>tight
        bne burst
straps2:
        lda #<titled            ; W1 joined
        ldx #>titled
burst:  sta ptr
        stx ptr+1
        ldy #0
burst1: lda (ptr),y
        cmp #ENDMARK
        beq burst2
        jsr send
        iny
        bne burst1
burst2: lda #0
        sta column
        rts

; ---------------------------------------------------------------- one byte, waiting as long as it takes
; A: the byte.  Keeps Y.
send:   bit STATUS
        bvc send                ; bit 6 low: busy
        sta DATA
        lda #CTLON
        sta CONTROL
        ldx #5                  ; strobe: 5 x 5 + 7 = 32 cycles from write to write
send1:  dex
        bne send1
        lda #CTLOFF
        sta CONTROL
        rts

; ---------------------------------------------------------------- the sieve
; A: any byte.  Returns A: CR or a printing character in upper case; carry set: nothing to print.
sieve:  and #$7F
        cmp #CR
        beq passes
        cmp #' '
        bcc stops               ; no other control code gets through
        cmp #$7F
        beq stops
        cmp #'a'
        bcc passes
        cmp #'z'+1
        bcs passes
        and #$DF                ; fold to upper case
passes: clc
        rts
stops:  sec
        rts

; ---------------------------------------------------------------- print a character
; A: any byte.  CR becomes CR LF; so does the end of the line.
putchar:
        jsr sieve
        bcs put9
        cmp #CR
        beq newline
        jsr send
        inc column
        lda column
        cmp #WIDTH
        bcc put9
newline:
        lda #CR
        jsr send
        lda #LF
        jsr send
        lda #0
        sta column
put9:   rts

; ---------------------------------------------------------------- print the line, giving up on a dead printer
; Prints `line` up to a CR or its end and wipes it.  Carry set: given up, the rest is lost.
putline:
        lda STATUSL
        bpl gaveup              ; bit 7 low: fault
        and #PAPER
        bne gaveup
        ldy #0
putl1:  sty place
        lda line,y
        pha
        lda #' '
        sta line,y              ; blank as we go
        pla
        jsr sieve
        bcs putl2
        cmp #CR
        beq putl3
        jsr trysend
        bcs gaveup
putl2:  ldy place
        iny
        cpy #WIDTH
        bne putl1
putl3:  lda #0
        sta place
        lda #CR
        jsr trysend
        bcs gaveup
        lda #LF
        jsr trysend
        bcs gaveup
        lda #0
        sta column
        rts
gaveup: jsr blank               ; whatever is left of the line
        lda #0
        sta place
        sta hold
        lda #1
        sta sour
        sec
        rts

; A: the byte.  Carry set: the printer stayed busy for 48 x 256 looks, about 0.13 s.
trysend:
        sta hold
        ldy #48
        ldx #0
try1:   lda STATUSL
        and #READY
        bne try2
        dex
        bne try1
        dey
        bne try1
        sec
        rts
try2:   lda hold
        sta DATA
        lda #CTLON
        sta CONTROL
        ldx #5
try3:   dex
        bne try3
        lda #CTLOFF
        sta CONTROL
        lda #0
        sta hold
        clc
        rts

; ---------------------------------------------------------------- the working day
main:   bit TIDEFL              ; wait for the minute
        bpl main
        lda sour                ; the last line was given up: wake the printer again
        beq main1
        lda #0
        sta sour
        jsr wake
main1:  jsr reading
main2:  bit TIDEFL              ; wait until the minute's bell is still
        bmi main2
        jmp main

; Print one reading, such as TIDE 04.37 M RISING.  Carry set: given up.
reading:
        jsr blank
        ldx #5
rdg1:   lda tide,x              ; "TIDE  "
        sta line,x
        dex
        bpl rdg1
        lda TIDEHI
        pha
        lsr
        lsr
        lsr
        lsr
        ora #'0'
        sta line+5
        pla
        and #$0F
        ora #'0'
        sta line+6
        lda #'.'
        sta line+7
        lda TIDELO
        pha
        lsr
        lsr
        lsr
        lsr
        ora #'0'
        sta line+8
        pla
        and #$0F
        ora #'0'
        sta line+9
        lda #'m'
        sta line+11
        ldx #0
        lda TIDEFL
        lsr                     ; bit 0: rising
        bcs rdg2
        ldx #7
rdg2:   ldy #0
rdg3:   lda rising,x
        sta line+13,y
        inx
        iny
        cpy #7
        bne rdg3
        lda #CR
        sta line+20
        jmp putline

blank:  ldx #WIDTH-1
        lda #' '
blank1: sta line,x
        dex
        bpl blank1
        rts

irq:    rti

; ---------------------------------------------------------------- words
; The three bursts.  LEAD 'Z': as after power-on; LEAD 'L' n: line step n; 06h: see the manuals.
plain:  .byte LEAD, 'Z', CR, LF, ENDMARK
tight:  .byte LEAD, 'Z', LEAD, 'L', 9, CR, LF, ENDMARK
titled: .byte LEAD, 'Z', LEAD, 'L', 12, $06
        .byte "MARRAM", CR, LF, ENDMARK

tide:   .byte "TIDE  "
rising: .byte "rising "
falling:
        .byte "falling"

        .segment "NOTE"
        .byte "MARRAM TIDE RECORDER 2.1 / 1982 / INVENTED FOR A DEMONSTRATION"

        .segment "VECTORS"
        .word irq, reset, irq
