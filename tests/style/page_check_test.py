"""The page check finds what a page names in vain, and leaves patterns alone."""

import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import page_check


class Pages(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = pathlib.Path(folder.name)
        (self.root / "src").mkdir()
        (self.root / "src" / "a.cpp").write_text("int turn();\n")

    def faults(self, text):
        (self.root / "PAGE.md").write_text(text)
        return page_check.page_faults(self.root, "PAGE.md")

    def test_files_that_are_there_pass(self):
        self.assertEqual(self.faults("see `src/a.cpp` and `src/`\n\n| step | `src/a.cpp` | `turn` |\n[x](src/a.cpp#t)"), [])

    def test_a_file_that_is_gone_is_found(self):
        self.assertIn("PAGE.md:2: src/b.cpp", self.faults("\nsee `src/b.cpp`")[0])

    def test_a_word_that_is_gone_from_its_file_is_found(self):
        self.assertIn("'twist'", self.faults("| step | `src/a.cpp` | `twist` |")[0])

    def test_a_link_that_leads_nowhere_is_found(self):
        self.assertIn("gone.svg", self.faults("[drawing](gone.svg)")[0])
        self.assertEqual(self.faults("[else](https://example.org/x)"), [])

    def test_patterns_stand_for_many(self):
        self.assertEqual(self.faults("`src/<room>/`, `tests/<room>/x_fuzz.cpp`, `src/*.cpp`"), [])
        self.assertEqual(len(self.faults("`src/*.hpp`")), 1)


if __name__ == "__main__":
    unittest.main()
