// Letters in their case and width. Expected: the Unicode Character Database's simple lowercase
// mappings and East Asian widths (UAX #11), each written here from memory of the standard's tables.
#include "catch.hpp"
#include "whirler/units/letters.hpp"

#include <clocale>

using whirler::columns;
using whirler::folded;

TEST_CASE("letters: a capital is the same as its small letter in every script that has both") {
  for (const auto& [capital, small] :
       {std::pair{"ÄRMEL", "ärmel"}, std::pair{"LÖT;SEITE, A", "löt;seite, a"},
        std::pair{"ΔΕΛΤΑ", "δελτα"}, std::pair{"ДЕЛЬТА", "дельта"}, std::pair{"ÇŞĞØÅŁ", "çşğøåł"},
        std::pair{"Gauge 7", "gauge 7"}, std::pair{"", ""}}) {
    CAPTURE(capital);
    CHECK(folded(capital) == small);
    CHECK(folded(small) == small);
  }
  CHECK(folded("部品面") == "部品面");
  CHECK(folded("a\xC3") == "a\xC3"); // cut within a letter
  CHECK(folded("\xFFÄ\xC4") == "\xFFä\xC4");
}

TEST_CASE("letters: the case does not depend on the language that the program was started in") {
  REQUIRE(std::setlocale(LC_ALL, "C") != nullptr);
  CHECK(folded("Ä") == "ä");
  CHECK(columns("部") == 2);
}

TEST_CASE("letters: a column each, two for the wide ones, none for a loose accent") {
  CHECK(columns("gauge 7") == 7);
  CHECK(columns("Löt") == 3);
  CHECK(columns("部品面") == 6);
  CHECK(columns("한글") == 4);
  CHECK(columns("ｱ") == 1);         // a halfwidth letter
  CHECK(columns("o\xCC\x88") == 1); // o and a combining diaeresis
  CHECK(columns("\xFF?") == 2);
  CHECK(columns("") == 0);
}
