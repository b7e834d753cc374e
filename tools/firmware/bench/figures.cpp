#include "figures.hpp"

#include <filesystem>
#include <iostream>

namespace bench {

Figures::Figures(const std::string& name) {
  std::filesystem::create_directories(FIGURES_FOLDER);
  file_.open(std::string(FIGURES_FOLDER) + "/" + name + ".txt");
}

void Figures::line(const std::string& text) {
  std::cout << text << std::endl;
  file_ << text << std::endl;
}

} // namespace bench
