"""The include check can fail: each case plants one fault in a made-up tree and demands its report."""

import pathlib
import shutil
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import include_check
from room_table import read_room_table

TABLE = """# For developers

| level | room | what | may include | libraries |
|---|---|---|---|---|
| 0 | units | quantities | std | |
| 1 | film | films | 0 | |
| 1 | tach | pulses | 0 | |
| 2 | files | text | 0, 1 | nlohmann-json |
| 3 | drive | ports | 0-2 | Boost.Asio |
| 4 | session | runs | 0-3 | |
| 5 | cli | commands | all | CLI11 |

Prose after the table.
"""
TREE = {
    "DEVELOPERS.md": TABLE,
    "CMakeLists.txt": "set(WHIRLER_PURE_ROOMS units film tach files)\n",
    "include/whirler/units/speed.hpp": "#include <cmath>\n",
    "include/whirler/film/rule.hpp": '#include "whirler/units/speed.hpp"\n',
    "include/whirler/tach/pulses.hpp": '#include "whirler/units/speed.hpp"\n',
    "include/whirler/drive/port.hpp": "#include <boost/asio/serial_port.hpp>\n",
    "src/film/rule.cpp": '#include "whirler/film/rule.hpp"\n#include "inner.hpp"\n// std::cout in words\n',
    "src/film/inner.hpp": "#include <vector>\n",
    "src/files/read.cpp": '#include "whirler/film/rule.hpp"\n#include <nlohmann/json.hpp>\n',
    "src/cli/film.cpp": '#include "whirler/drive/port.hpp"\n#include <CLI/CLI.hpp>\n#include <iostream>\n',
    "tools/bench_film.cpp": '#include "whirler/film/rule.hpp"\n#include <chrono>\n',
}


class IncludeCheck(unittest.TestCase):
    def setUp(self):
        self.root = pathlib.Path(tempfile.mkdtemp(prefix="rooms"))
        self.addCleanup(shutil.rmtree, self.root)
        for name, text in TREE.items():
            self.write(name, text)

    def write(self, name, text):
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def faults(self):
        return include_check.tree_faults(self.root)[0]

    def expect(self, *parts):
        faults = self.faults()
        self.assertEqual(len(faults), 1, faults)
        for part in parts:
            self.assertIn(part, faults[0])

    def test_a_tree_that_keeps_the_table_has_no_faults(self):
        self.assertEqual(self.faults(), [])

    def test_a_neighbour_of_the_same_level_is_refused(self):
        self.write("src/film/rule.cpp", '\n  #  include "whirler/tach/pulses.hpp"\n')
        self.expect("src/film/rule.cpp:2", "film (level 1) may not include tach (level 1)")

    def test_a_lower_room_may_not_look_up(self):
        self.write("include/whirler/units/speed.hpp", "#include <whirler/film/rule.hpp>\n")
        self.expect("include/whirler/units/speed.hpp:1", "units (level 0) may not include film")

    def test_a_library_belongs_to_the_rooms_that_name_it(self):
        self.write("src/film/rule.cpp", "#include <nlohmann/json.hpp>\n")
        self.expect("src/film/rule.cpp:1", "nlohmann-json")
        self.write("src/film/rule.cpp", "#include <boost/asio/post.hpp>\n")
        self.expect("src/film/rule.cpp:1", "Boost.asio")

    def test_pure_rooms_may_not_reach_the_world(self):
        for header in ("iostream", "fstream", "filesystem", "chrono", "sys/stat.h", "thread", "cstdio"):
            self.write("src/tach/read.cpp", f"#include <{header}>\n")
            self.expect("src/tach/read.cpp:1", f"<{header}>")

    def test_pure_rooms_may_not_name_the_world(self):
        for code in ('std::getenv("X")', 'printf("x")', "std::cerr << 1", "std::random_device seed",
                     "std::chrono::steady_clock::now()"):
            self.write("src/files/read.cpp", f"\n{code};\n")
            self.expect("src/files/read.cpp:2", "may not use")

    def test_rooms_above_may_reach_the_world(self):
        self.write("src/drive/port.cpp", "#include <chrono>\n#include <unistd.h>\n")
        self.assertEqual(self.faults(), [])

    def test_a_room_that_is_not_in_the_table_is_found(self):
        self.write("src/attic/thing.cpp", "#include <vector>\n")
        self.expect("src/attic/thing.cpp", "'attic' is no room")

    def test_a_source_outside_every_room_is_found(self):
        self.write("src/thing.cpp", "")
        self.expect("src/thing.cpp", "lies in no room")

    def test_tools_may_include_every_room_but_not_what_is_missing(self):
        self.write("tools/bench_film.cpp", '#include "whirler/film/gone.hpp"\n')
        self.expect("tools/bench_film.cpp:1", "does not exist")

    def test_climbing_out_of_the_folder_is_refused(self):
        self.write("src/film/rule.cpp", '#include "../tach/secret.hpp"\n')
        self.expect("src/film/rule.cpp:1", "climbs")

    def test_the_top_level_holds_what_is_named_and_nothing_else(self):
        self.write("notes/plan.txt", "")
        self.expect("notes", "top level")

    def test_the_build_and_the_table_name_the_same_pure_rooms(self):
        self.write("CMakeLists.txt", "set(WHIRLER_PURE_ROOMS units film tach\n  files drive)\n")
        self.expect("CMakeLists.txt", "'drive'")

    def test_changing_the_table_changes_the_check(self):
        self.write("DEVELOPERS.md", TABLE.replace("| 1 | tach | pulses | 0 |", "| 2 | tach | pulses | 0 |"))
        self.write("src/film/rule.cpp", "")
        self.assertEqual(self.faults(), [])
        self.write("src/files/read.cpp", '#include "whirler/tach/pulses.hpp"\n')
        self.expect("files (level 2) may not include tach (level 2)")

    def test_a_table_that_cannot_be_read_is_a_fault_and_not_a_pass(self):
        with self.assertRaises(ValueError):
            read_room_table("# no table here\n")
        with self.assertRaises(ValueError):
            read_room_table("| level | room | what | may include | libraries |\n|---|---|---|---|---|\n"
                            "| 0 | units | q | nothing | |\n")


if __name__ == "__main__":
    unittest.main()
