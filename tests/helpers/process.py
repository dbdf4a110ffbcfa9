"""The installed command as a process of its own.

Responsible for starting and waiting; not for any expectation.
"""

import os
import subprocess
import sys
from pathlib import Path

COMMAND = Path(sys.executable).parent / "bainward"
END_WAIT_S = 180.0  # never reached unless something is wrong: a busy computer only takes longer


def environment(home: Path) -> dict[str, str]:
    """This environment with records under `home`, so that no test touches a user's own."""
    return {**os.environ, "XDG_STATE_HOME": str(home / "state")}


def start(home: Path, *words: str, cwd: Path | None = None) -> subprocess.Popen[str]:
    """Start `bainward` with these words, in `cwd` if given; standard input is closed."""
    return subprocess.Popen(
        [str(COMMAND), *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(home),
        cwd=cwd,
    )


def end(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    """Wait for the end; exit code, standard output, standard error. What does not end is killed."""
    try:
        out, err = process.communicate(timeout=END_WAIT_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        raise
    return process.returncode, out, err
