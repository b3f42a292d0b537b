; Strip printer driver of an invented machine: queue, line buffer, number output, delay, reset.
        .setcpu "6502"
DATA = $C800
STATUS = $C801
STROBE = $C802
head = $20
tail = $21
column = $22
width = $23
count = $24
ptr = $25
work = $27
buffer = $0300
        .org $F800
reset:  sei
        cld
        ldx #$FF
        txs
        lda #1
        sta STROBE
        lda #0
        tax
clear:  sta $00,x
        sta buffer,x
        inx
        bne clear
        lda #24
        sta width
        jsr banner
main:   jsr getkey
        bcc main
        cmp #$0D
        beq endline
        cmp #$08
        beq back
        cmp #$1B
        beq escape
        ldx column
        sta buffer,x
        inx
        stx column
        cpx width
        bcc main
endline:
        jsr flush
        jmp main
back:   ldx column
        beq main
        dec column
        jmp main
escape: jsr getkey
        bcc escape
        sec
        sbc #$30
        bcc main
        cmp #10
        bcs main
        asl
        tax
        lda table+1,x
        pha
        lda table,x
        pha
        rts
table:  .word feed-1, narrow-1, wide-1, status-1, dump-1, banner1-1, flush1-1, count1-1, zero-1, self-1
feed:   lda #$0A
        jsr send
        jmp main
narrow: lda #16
        bne setw
wide:   lda #24
setw:   sta width
        jmp main
status: lda STATUS
        jsr hexout
        jmp main
banner1: jsr banner
        jmp main
flush1: jsr flush
        jmp main
count1: lda count
        jsr decout
        jmp main
zero:   lda #0
        sta count
        jmp main
self:   ldx #$20
sl1:    txa
        jsr send
        inx
        cpx #$7F
        bne sl1
        jmp main
dump:   ldy #0
d1:     tya
        and #7
        bne d2
        jsr newline
        tya
        jsr hexout
d2:     lda #' '
        jsr send
        lda buffer,y
        jsr hexout
        iny
        cpy #64
        bne d1
        jsr newline
        jmp main
flush:  ldx #0
f1:     cpx column
        beq f2
        lda buffer,x
        jsr send
        bcs f3
        inx
        bne f1
f2:     jsr newline
        inc count
f3:     lda #0
        sta column
        rts
newline:
        lda #$0D
        jsr send
        lda #$0A
send:   pha
        txa
        pha
        ldx #0
        ldy #0
wait:   bit STATUS
        bpl ready
        bvs nopaper
        dey
        bne wait
        dex
        bne wait
        lda #<busymsg
        ldy #>busymsg
        jmp fail
ready:  pla
        tax
        pla
        sta DATA
        lda #0
        sta STROBE
        ldy #5
hold:   dey
        bne hold
        lda #1
        sta STROBE
        clc
        rts
nopaper:
        lda #<papermsg
        ldy #>papermsg
fail:   sta ptr
        sty ptr+1
        ldy #0
fl1:    lda (ptr),y
        beq fl2
        sta $0400,y
        iny
        bne fl1
fl2:    pla
        tax
        pla
        sec
        rts
hexout: pha
        lsr
        lsr
        lsr
        lsr
        jsr nibble
        pla
        and #$0F
nibble: cmp #10
        bcc n1
        adc #6
n1:     adc #$30
        jmp send
decout: ldx #0
dc1:    cmp #100
        bcc dc2
        sbc #100
        inx
        bne dc1
dc2:    pha
        txa
        beq dc3
        ora #$30
        jsr send
dc3:    pla
        ldx #0
dc4:    cmp #10
        bcc dc5
        sbc #10
        inx
        bne dc4
dc5:    pha
        txa
        ora #$30
        jsr send
        pla
        ora #$30
        jmp send
getkey: lda head
        cmp tail
        beq empty
        ldx tail
        lda $0500,x
        inx
        txa
        and #$3F
        sta tail
        lda $0500,x
        sec
        rts
empty:  clc
        rts
banner: ldx #0
b1:     lda hello,x
        beq b2
        jsr send
        bcs b2
        inx
        bne b1
b2:     rts
hello:  .byte "STRIP PRINTER 24 COLUMNS", 13, 10, "VERSION TWO", 13, 10, 0
busymsg: .byte "PRINTER NOT READY", 13, 0
papermsg: .byte "OUT OF PAPER", 13, 0
irq:    pha
        txa
        pha
        lda $C810
        and #$7F
        ldx head
        sta $0500,x
        inx
        txa
        and #$3F
        sta head
        pla
        tax
        pla
        rti
nmi:    rti
        .res $FFFA-*, $FF
        .word nmi, reset, irq
