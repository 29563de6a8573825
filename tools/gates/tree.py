"""What the gates share: the files of the source tree, and how a gate ends."""
import argparse
import pathlib
import re
import subprocess
import sys


def arguments(description: str, *extra) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=description)
    here = pathlib.Path(__file__).resolve().parents[2]
    parser.add_argument("--root", type=pathlib.Path, default=here, help="source tree (default: this one)")
    for names, options in extra:
        parser.add_argument(*names, **options)
    return parser.parse_args()


def files(root: pathlib.Path) -> list[str]:
    """Paths, relative to root, of what is or would be committed. Without git: all but builds and dot folders."""
    listing = subprocess.run(
        ["git", "-c", "safe.directory=*", "-C", str(root), "ls-files", "-z", "--cached", "--others",
         "--exclude-standard"], capture_output=True, text=True, check=False)
    if listing.returncode == 0 and (root / ".git").exists():
        return sorted(path for path in listing.stdout.split("\0") if path and (root / path).exists())
    skip = re.compile(r"^(build[^/]*|\.git)/|(^|/)__pycache__/")
    every = (path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())
    return sorted(path for path in every if not skip.search(path))


def finish(gate: str, problems: list[str], examined: int, what: str) -> None:
    """Ends the program: 1 with every problem, or when there was nothing to examine."""
    if examined == 0:
        problems.append(f"there is nothing to examine: no {what}")
    for problem in problems:
        print(f"{gate}: {problem}")
    if problems:
        sys.exit(1)
    print(f"{gate}: {examined} {what}, all in order")
