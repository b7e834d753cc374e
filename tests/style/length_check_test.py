"""The length check measures what a person would, and can fail."""

import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import length_check

SOURCE = r'''#include <map>
#define BRACES }{ }{ \
  }{
namespace whirler {
enum class Kind : int { one, two };
constexpr int kTable[] = {1, 2, 3};
const std::map<int, int> pairs{{1, 2}, {3, 4}};
struct Plain {
  int value = 3;
  int braced{4};
};
template <class T = int, int N = (3)>
T twice(T value) { // line 13
  return 2 * value; // }}}
}
class Held : public Base<int> {
 public:
  Held(int a, Options o = {}) // line 18
      : a_{a}, b_(a), c_{{1, 2}} {
    const char* brace = "}}}{";
    const char one = '{';
    const auto raw = R"x( }} " )x";
    for (int i = 0; i < 3; ++i) {
      call([&](int x) { return x; });
    }
  }
  bool operator()(int) const noexcept { return a_ == 1'000; }

 private:
  int a_ = 0;
};
const auto named = [](int x) {
  return x;
};
} // namespace whirler
extern "C" {
int entry(void)
{
  return 0;
}
}
TEST_CASE("exact: a claim (with brackets) { and braces") {
  CHECK(true);
}
'''


def long_function(lines):
    return "int f() {\n" + "  g();\n" * (lines - 2) + "}\n"


class Lengths(unittest.TestCase):
    def test_functions_are_told_from_types_namespaces_and_initialisers(self):
        self.assertEqual(length_check.cpp_functions(SOURCE),
                         [(12, 4), (18, 9), (27, 1), (32, 3), (37, 4), (42, 3)])

    def test_a_function_of_sixty_lines_passes_and_one_more_does_not(self):
        path = pathlib.PurePath("src/film/rule.cpp")
        self.assertEqual(length_check.file_faults(path, long_function(60))[0], [])
        faults, lengths = length_check.file_faults(path, "\n" + long_function(61))
        self.assertEqual(lengths, [61])
        self.assertIn("src/film/rule.cpp:2: a function of 61 lines", faults[0])

    def test_a_long_test_case_and_a_long_python_function_are_found(self):
        case = 'TEST_CASE("x") {\n' + "  CHECK(f());\n" * 60 + "}\n"
        self.assertTrue(length_check.file_faults(pathlib.PurePath("tests/film/x_test.cpp"), case)[0])
        python = "def f():\n" + "    g()\n" * 60
        self.assertTrue(length_check.file_faults(pathlib.PurePath("tests/readme/x.py"), python)[0])

    def test_a_file_of_four_hundred_lines_passes_and_one_more_does_not(self):
        path = pathlib.PurePath("include/whirler/film/rule.hpp")
        self.assertEqual(length_check.file_faults(path, "int a;\n" * 400)[0], [])
        self.assertIn("401 lines", length_check.file_faults(path, "int a;\n" * 401)[0][0])

    def test_a_page_and_a_corpus_may_be_longer(self):
        for name in ("DEVELOPERS.md", "tests/files/corpus_json/deep"):
            self.assertEqual(length_check.file_faults(pathlib.PurePath(name), "x\n" * 500)[0], [])

    def test_names_that_say_nothing_are_refused(self):
        for name in ("src/film/film_utils.cpp", "src/common/x.cpp", "tools/helper", "include/whirler/core/a.hpp"):
            self.assertTrue(length_check.file_faults(pathlib.PurePath(name), "")[0], name)
        self.assertEqual(length_check.file_faults(pathlib.PurePath("src/film/score.cpp"), "")[0], [])

    def test_the_tree_is_read_and_the_product_counted_apart(self):
        with tempfile.TemporaryDirectory() as folder:
            root = pathlib.Path(folder)
            files = [pathlib.PurePath("src/film/a.cpp"), pathlib.PurePath("tests/film/a_test.cpp")]
            for path in files:
                (root / path.parent).mkdir(parents=True)
                (root / path).write_text(long_function(70))
            faults, product = length_check.tree_faults(root, files)
            self.assertEqual((len(faults), product), (2, [70]))


if __name__ == "__main__":
    unittest.main()
