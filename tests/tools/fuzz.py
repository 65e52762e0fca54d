"""Damaged files led on by what of our code they reach: a recording or one sentence, nothing else.

    pip install -e ".[test,fuzz]"
    python -m tests.tools.fuzz -max_total_time=600      ten minutes
    python -m tests.tools.fuzz -runs=1000               so many files

Starts from a whole file of every format that is read. The first file that brings anything but a
recording or a `LabError` ends the run and is kept in the folder it was started in, and so is one
that takes longer than twenty seconds. In small, and without atheris, the same runs with the tests.
"""

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

GIVEN = ["-timeout=20", "-max_len=200000"]  # seconds a file, bytes


def main() -> None:
    """Hand files to the loader until told to stop, or until one brings an error."""
    import atheris  # only who fuzzes has it, and it must come before what it is to see

    with atheris.instrument_imports(include=["labcore"]):
        from tests.test_audio_fuzz import (
            WRITERS,
            load_recording,
            loads_or_says,
            whole,
        )

    def one(data: bytes) -> None:
        loads_or_says(lambda: load_recording(data))

    with TemporaryDirectory() as place:
        for number, kind in enumerate(WRITERS):
            (Path(place) / str(number)).write_bytes(whole(kind))
        atheris.Setup([sys.argv[0], *GIVEN, *sys.argv[1:], place], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
