// What a run of the bench measured, said and kept: the tests' figures are results, and a log that
// shows only failures would lose them.
#pragma once

#include <fstream>
#include <string>

namespace bench {

class Figures {
 public:
  /// Keeps them as FIGURES_FOLDER/name.txt, in place of an older run's.
  explicit Figures(const std::string& name);
  void line(const std::string& text);

 private:
  std::ofstream file_;
};

} // namespace bench
