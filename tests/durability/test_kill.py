"""The short form of the kill script; its long form is run by hand."""

import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).with_name("kill.py")


def test_nothing_acknowledged_is_lost_in_25_kills(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, str(SCRIPT), "--times", "25", "--folder", str(tmp_path)],
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert ran.stdout.startswith("25 kills, ")
    assert int(ran.stdout.split()[2]) > 50  # it was at work when it was killed


def test_the_kill_script_notices_a_loss(tmp_path: Path) -> None:
    """A victim that says of its work what is not so."""
    spoiled = SCRIPT.read_text().replace("            driver.act()\n", "            pass\n", 1)
    assert spoiled != SCRIPT.read_text()
    spoiled = spoiled.replace("hexdigest()[:16]", "hexdigest()[:16] + str(os.getpid())", 1)
    folder = tmp_path / "copy"
    folder.mkdir()
    (folder / "kill.py").write_text(spoiled)
    (folder / "driver.py").write_text(SCRIPT.with_name("driver.py").read_text())
    ran = subprocess.run(
        [sys.executable, str(folder / "kill.py"), "--times", "25", "--folder", str(tmp_path)],
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 1
    assert ran.stdout.startswith("kill ")
