"""The page's runner runs what stands there, in order, and can fail."""

import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import run_readme


def page(*blocks):
    return "".join(f"words\n\n```sh\n{block}\n```\n" for block in blocks)


class Readme(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = pathlib.Path(folder.name)
        (self.root / "tools").mkdir()
        (self.root / "tools" / "try").write_text("#!/bin/bash\nexit 9\n")
        (self.root / "tools" / "try").chmod(0o755)
        self.program = self.root / "whirler"
        self.program.write_text('#!/bin/sh\necho "ran $*"\nexit "$1"\n')
        self.program.chmod(0o755)

    def faults(self, text):
        return run_readme.page_faults(text, self.program, self.root)

    def test_commands_of_all_blocks_share_one_session(self):
        self.assertEqual(self.faults(page("whirler 0\nx=3", 'test "$x" = 3')), ([], 3))

    def test_a_status_other_than_the_promised_one_is_a_fault(self):
        self.assertEqual(self.faults(page("whirler 3   # exits 3")), ([], 1))
        faults, _ = self.faults(page("# a word\nwhirler 0", "whirler 5"))
        self.assertEqual(len(faults), 1)
        self.assertIn("line 10: exit status 5, not 0", faults[0])
        self.assertEqual(len(self.faults(page("whirler 0   # exits 3"))[0]), 1)

    def test_a_joined_command_is_one(self):
        self.assertEqual(self.faults(page("whirler \\\n  0")), ([], 1))
        self.assertEqual(self.faults(page("cat > x <<'END'\nwhirler 7\nEND\nwhirler 0\ntest -s x")), ([], 3))
        self.assertEqual(self.faults(page("for i in 0 0; do\n  whirler $i\ndone")), ([], 1))

    def test_a_block_that_is_no_shell_text_is_a_fault(self):
        self.assertTrue(self.faults(page("echo 'open"))[0])

    def test_a_shell_that_ends_early_leaves_the_rest_unproven(self):
        self.assertIn("not finished", self.faults(page("exit 0\nwhirler 0"))[0][0])

    def test_tools_are_looked_for_and_not_run(self):
        self.assertEqual(self.faults(page("tools/try\nwhirler 0")), ([], 1))
        self.assertIn("no program", self.faults(page("tools/gone\nwhirler 0"))[0][0])

    def test_other_blocks_are_left_alone(self):
        self.assertEqual(self.faults("```\nwhirler 1\n```\n"), ([], 0))


if __name__ == "__main__":
    unittest.main()
