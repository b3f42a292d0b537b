"""The study folder: reading, checking and writing."""

from latchlore.study._asking import AskedProgram, Stated, open_program
from latchlore.study._cache import Cache, cache_folder, set_kernel_cache
from latchlore.study._captures import (
    StatedCapture,
    StatedLines,
    addresses_of,
    bus_lines_of,
    framing_of,
    limits_of,
    lines_of,
    open_capture,
    read_one_run,
    read_runs,
    span_of,
)
from latchlore.study._chipwiring import chip_wiring
from latchlore.study._codec import register_records
from latchlore.study._load import load_study
from latchlore.study._matings import load_board, mate_folder, mate_study, study_board
from latchlore.study._new import new_study
from latchlore.study._notation import BitPlace, parse_address
from latchlore.study._questionplain import questions_to_plain
from latchlore.study._questions import (
    OpenQuestion,
    Questions,
    Rival,
    Seen,
    StatedTrial,
    Step,
    read_questions,
    record_outcome,
)
from latchlore.study._questionwords import SURE_PERCENT
from latchlore.study._record import (
    Record,
    accept_changes,
    add_finding,
    find_record,
    judge_record,
    judge_study,
    parse_findings,
    read_record,
    withdraw_finding,
)
from latchlore.study._recordings import Recording, read_recording
from latchlore.study._sheet import FilledSheet, read_sheet, sheet_text
from latchlore.study._standin import basis_of, hear_study, specify_study, study_vectors, write_vectors
from latchlore.study._study import (
    DevicePart,
    EntryPart,
    Given,
    Held,
    ImageNote,
    ImagePart,
    LogPart,
    LookFor,
    ProgramPart,
    QuestionPart,
    RolePart,
    Study,
    StudyFile,
)
from latchlore.study._sweep import Sweep, describe_sweep, sweep_folder
from latchlore.study._sweepquestion import SweepAnswer, SweepQuestion, SweepRow, ask_image
from latchlore.study._tracing import Tracing, open_tracing
from latchlore.study._weighing import Hearing, hear, sequence_logs, weigh_loaded, weigh_study
from latchlore.study._write import finish_changes, remove_files, write_files, write_whole

__all__ = [
    "SURE_PERCENT",
    "AskedProgram",
    "BitPlace",
    "Cache",
    "DevicePart",
    "EntryPart",
    "FilledSheet",
    "Given",
    "Hearing",
    "Held",
    "ImageNote",
    "ImagePart",
    "LogPart",
    "LookFor",
    "OpenQuestion",
    "ProgramPart",
    "QuestionPart",
    "Questions",
    "Record",
    "Recording",
    "Rival",
    "RolePart",
    "Seen",
    "Stated",
    "StatedCapture",
    "StatedLines",
    "StatedTrial",
    "Step",
    "Study",
    "StudyFile",
    "Sweep",
    "SweepAnswer",
    "SweepQuestion",
    "SweepRow",
    "Tracing",
    "accept_changes",
    "add_finding",
    "addresses_of",
    "ask_image",
    "basis_of",
    "bus_lines_of",
    "cache_folder",
    "chip_wiring",
    "describe_sweep",
    "find_record",
    "finish_changes",
    "framing_of",
    "hear",
    "hear_study",
    "judge_record",
    "judge_study",
    "limits_of",
    "lines_of",
    "load_board",
    "load_study",
    "mate_folder",
    "mate_study",
    "new_study",
    "open_capture",
    "open_program",
    "open_tracing",
    "parse_address",
    "parse_findings",
    "questions_to_plain",
    "read_one_run",
    "read_questions",
    "read_record",
    "read_recording",
    "read_runs",
    "read_sheet",
    "record_outcome",
    "register_records",
    "remove_files",
    "sequence_logs",
    "set_kernel_cache",
    "sheet_text",
    "span_of",
    "specify_study",
    "study_board",
    "study_vectors",
    "sweep_folder",
    "weigh_loaded",
    "weigh_study",
    "withdraw_finding",
    "write_files",
    "write_vectors",
    "write_whole",
]
