#include "cure_lines.hpp"

#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

std::string mm(Length length) { return number_text(length.mm()) + " mm"; }

} // namespace

std::vector<std::string> cure_lines(const balance::Cures& cures, const CureWords& words) {
  std::vector<std::string> lines{
      words.kept_up_to ? "Nothing has to be done: the grade is kept at " +
                             number_text(words.kept_up_to->rpm(), 5) + " rpm. To better it still:"
                       : "What to do, first what is easiest:"};
  int number = 0;
  const auto offer = [&](const std::string& what) {
    ++number;
    lines.push_back("  " + std::to_string(number) + ". " + (number > 1 ? "or " : "") + what);
  };
  if (cures.hole_lets_shift)
    offer("shift the plate on the hub by " + mm(cures.shift.by) + " towards " +
          words.place(cures.shift.towards) + ", if the hole's play lets it");
  else
    lines.push_back("  no shift on the hub: it would take " + mm(cures.shift.by) +
                    ", and the hole is " + mm(words.hole));
  offer(words.counter);
  if (!words.kept_up_to)
    offer("run slower" + (cures.slower ? ": at most " + number_text(cures.slower->rpm(), 4) + " rpm"
                                       : words.slower_unknown));
  offer("drill a new blank, its hole " + mm(cures.redrill.by) + " nearer " +
        words.place(cures.redrill.towards));
  return lines;
}

} // namespace whirler::cli
