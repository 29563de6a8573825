"""Every gate passes on a small tree that is in order, fails on one planted fault, and fails on nothing at all."""
import pathlib
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[1]

GOOD = {
    "CMakeLists.txt": "", "DEVELOPERS.md": "", "docs/dependencies.md": "| `g++` | compiler |\n| `git` | lists |\n",
    "samples/one.csv": "1\n", "cli/help.cpp": "#include <CLI/CLI.hpp>\n", "tests/a_test.cpp": '#include <doctest/doctest.h>\nconst char* code = "hum";\n',
    "docs/output.md": "## Notices\n\n| `hum` | it hums |\n\n## Exit codes\n",
    "lib/src/read/hum.cpp": 'void f() {\n    notices.push_back({"hum", "it hums"});\n}\n',
    "lib/src/read/made.hpp": 'Notice g(int at) {\n    return {"hum", "it hums"};  // {"hiss", "no"}\n}\n',
   
    "tools/install-packages": "build=(\n    g++\n)\nchecks=(\n    git\n)\n",
    "README.md": "Text\n\n```sh\nnot run\n```\n\nText\n\n```sh\ntool one\n```\n\n```text\nsaid one\n```\n",
    "lib/include/evenstroke/error.hpp": "#include <string>\n",
    "lib/include/evenstroke/read.hpp": '#include <string>\n\n#include "evenstroke/error.hpp"\n',
    "lib/include/evenstroke/trace.hpp": '#include "evenstroke/read.hpp"\n',
    "lib/src/read/read.cpp": '#include <sndfile.h>\n\n#include "evenstroke/read.hpp"\n',
    "lib/src/signal/fft.cpp": '#include <kiss_fftr.h>\n\n#include <Eigen/Core>\n// std::cout is only spoken of\nconst char* text = "exit(1)";\n',
    ".clang-format": (ROOT / ".clang-format").read_text(encoding="utf-8"),
}


def run_gate(gate: str, tree: dict[str, str]) -> tuple[int, str]:
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder)
        for name, text in tree.items():
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            (root / name).write_text(text, encoding="utf-8")
        extra = []
        if gate == "readme":
            program = root / "build" / "tool"
            program.parent.mkdir()
            program.write_text('#!/bin/sh\necho "said $1"\n[ "$1" != fail ]\n', encoding="utf-8")
            program.chmod(0o755)
            extra = ["--program", str(program)]
        done = subprocess.run([sys.executable, "-B", str(ROOT / "tools/gates" / gate), "--root", folder, *extra],
                              capture_output=True, text=True, check=False)
        return done.returncode, done.stdout + done.stderr


FAULTS = [
    ("format", "lib/src/read/read.cpp", "int  x ;\n"),
    ("stage_order", "lib/include/evenstroke/read.hpp", '#include "evenstroke/trace.hpp"\n'),
    ("stage_order", "lib/src/read/read.cpp", '#include "evenstroke/trace.hpp"\n'),
    ("stage_order", "lib/src/read/read.cpp", '#include "evenstroke/nowhere.hpp"\n'),
    ("stage_order", "lib/include/evenstroke/read.hpp", '#include "signal/fft.hpp"\n'),
    ("stage_order", "lib/include/evenstroke/novel.hpp", "#include <string>\n"),
    ("stage_order", "lib/src/novel/novel.cpp", "#include <string>\n"),
    ("stage_order", "lib/src/trace/trace.cpp", "#include <sndfile.h>\n"),
    ("stage_order", "lib/src/read/read.cpp", "#include <kiss_fft.h>\n"),
    ("stage_order", "lib/src/read/read.cpp", "#include <CLI/CLI.hpp>\n"),
    ("stage_order", "lib/src/read/read.cpp", "#include <doctest/doctest.h>\n"),
    ("stage_order", "lib/include/evenstroke/read.hpp", "#include <fmt/format.h>\n"),
    ("stage_order", "lib/include/evenstroke/read.hpp", "#include <nlohmann/json.hpp>\n"),
    ("stage_order", "lib/include/evenstroke/read.hpp", "#include <Eigen/Core>\n"),
    ("stage_order", "lib/src/read/read.cpp", "#include <Eigen/Core>\n"),
    ("stage_order", "lib/src/read/read.cpp", "#include <unheard/of.h>\n"),
    ("stage_order", "cli/main.cpp", "#include <kiss_fft.h>\n"),
    ("stage_order", "cli/main.cpp", "#include <CLI/CLI.hpp>\n"),
    ("stage_order", "lib/src/read/read.cpp", 'void f() { std::cout << "x"; }\n'),
    ("stage_order", "lib/src/read/read.cpp", "void f() { exit(1); }\n"),
    ("stage_order", "lib/src/read/read.cpp", 'auto f() { return std::getenv("HOME"); }\n'),
    ("stage_order", "lib/src/read/read.cpp", 'void f() { std::printf("x"); }\n'),
    ("stage_order", "lib/src/trace/trace.cpp", "auto& f() { return std::cin; }\n"),
    ("top_level", "NOTES.txt", "x\n"),
    ("top_level", "README.md", None),
    ("packages", "docs/dependencies.md", "| `g++` | compiler |\n"),
    ("packages", "docs/dependencies.md", "| `g++` | compiler |\n| `git` | lists |\n| `gold` | wish |\n"),
    ("notices", "lib/src/read/hum.cpp", 'void f() {\n    notices.push_back(\n        {"hiss", "it hisses"});\n}\n'),
    ("notices", "lib/src/read/made.hpp", 'Notice g(int at) {\n    if (at) return {"hum", "it hums"};\n    return {"hiss", "it hisses"};\n}\n'),
    ("notices", "lib/src/read/made.hpp", 'std::optional<Notice> g(int at) {\n    return Notice{"hiss", "it hisses"};\n}\n'),
    ("notices", "lib/src/read/hum.cpp", 'void f(const char* code) {\n    notices.push_back({code, "it hums"});\n}\n'),
    ("notices", "docs/output.md", None),
    ("notices", "docs/output.md", "## Notices\n\n| `hum` | it hums |\n| `hiss` | it hisses |\n"),
    ("notices", "docs/output.md", "## Notices\n\n| `hum` | it hums |\n| `hum` | again |\n"),
    ("notices", "docs/output.md", "## Notices\n\n## Others\n\n| `hum` | it hums |\n"),
    ("notices", "tests/a_test.cpp", "#include <doctest/doctest.h>\n"),
    ("readme", "README.md", "```sh\ntool one\n```\n\n```text\nsaid two\n```\n"),
    ("readme", "README.md", "```sh\ntool fail\n```\n\n```text\nsaid fail\n```\n"),
    ("readme", "README.md", "```sh exit=3\ntool one\n```\n\n```text\nsaid one\n```\n"),
    ("readme", "README.md", "```sh\ntool one\n```\n"),
    ("readme", "docs/method.md", "```sh\ntool one\n```\n\n```text\nsaid two\n```\n"),
]


class Gates(unittest.TestCase):
    def test_tree_in_order_passes(self):
        for gate in sorted({gate for gate, _, _ in FAULTS}):
            with self.subTest(gate=gate):
                status, said = run_gate(gate, GOOD)
                self.assertEqual(status, 0, said)

    def test_planted_fault_fails(self):
        for gate, path, text in FAULTS:
            with self.subTest(gate=gate, path=path, text=text):
                tree = dict(GOOD)
                tree[path] = text
                if text is None:
                    del tree[path]
                status, said = run_gate(gate, tree)
                self.assertEqual(status, 1, said)
                self.assertNotIn("Traceback", said)

    def test_empty_tree_fails(self):
        for gate in sorted({gate for gate, _, _ in FAULTS}):
            with self.subTest(gate=gate):
                self.assertNotEqual(run_gate(gate, {})[0], 0)

    def test_every_gate_is_tested(self):
        gates = {path.name for path in (ROOT / "tools/gates").iterdir() if path.suffix == "" and path.is_file()}
        self.assertEqual(gates, {gate for gate, _, _ in FAULTS})


if __name__ == "__main__":
    unittest.main()
