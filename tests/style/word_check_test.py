"""The word check finds what it is for, and leaves alone what only looks like it."""

import pathlib
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import word_check


class Words(unittest.TestCase):
    def test_paths_papers_numbers_and_writers_are_found(self):
        for line in ("see /work/main", '"/home/ann/plates"', "(/root/whirler)", "as film.md says", "../shared/film",
                     "fixes issue 5", "issue #12", "written by AI"):
            self.assertEqual(len(word_check.text_faults("a.md", "ok\n" + line)), 1, line)

    def test_the_place_of_the_fault_is_named(self):
        self.assertIn("a.md:2: '/work/main'", word_check.text_faults("a.md", "ok\nsee /work/main")[0])

    def test_ordinary_words_pass(self):
        for line in ("WHIRLER_SOURCE_DIR \"/../shared/data/rotor\"", "/dev/serial/by-id/x", "/tmp/x", "$root/work",
                     "${home}/whirler", "the network/workshop", "an issue of the trade", "AIR", "DEVELOPERS.md",
                     "README.md", "boards/home/x"):
            self.assertEqual(word_check.text_faults("a.md", line), [], line)


if __name__ == "__main__":
    unittest.main()
