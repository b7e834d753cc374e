// The bench as a program. See `firmware_bench` without words for what it does.
#include "chain_faults.hpp"
#include "fault_table.hpp"
#include "following.hpp"
#include "sizes.hpp"
#include "terminal.hpp"

#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <iostream>
#include <string>
#include <string_view>
#include <vector>

namespace {

using bench::StandModel;

constexpr const char* kUsage =
    R"(firmware_bench: the driver's firmware on an emulated chip, tied to the simulated spinner.

  firmware_bench sizes                       flash, RAM, worst stack, cycles of the interrupts
  firmware_bench faults [GROUP] [RUNS]       every fault, timed to the motor's enable going low
  firmware_bench chain [WORD]                the same with the real host program as the client, in
                                             real time; only the faults that have WORD in them
  firmware_bench follow [--trace FILE.svg]   how a profile is followed, light and heavy plate
  firmware_bench terminal [--image NAME] [--inertia KG_M2] [--seconds S]
                                             prints a port for `whirler run`, serves it in real time
)";

int print_faults(const std::vector<std::string>& words) {
  const int runs = words.size() > 2 ? std::atoi(words[2].c_str()) : 3;
  for (const auto& group : bench::fault_groups()) {
    if (words.size() > 1 && words[1] != group)
      continue;
    for (const auto& fault : bench::fault_cases(group))
      for (const auto moment : fault.moments)
        std::cout << to_text(bench::measure(fault, moment, runs)) << std::endl;
  }
  return 0;
}

int print_chain(const std::vector<std::string>& words) {
  std::vector<bench::ChainCase> cases;
  for (auto& each : bench::chain_cases())
    if (words.size() < 2 || each.fault.find(words[1]) != std::string::npos)
      cases.push_back(std::move(each));
  int failed = 0;
  for (const auto& outcome : bench::run_chain(WHIRLER_PROGRAM, cases)) {
    std::cout << to_text(outcome) << (holds(outcome) ? "" : "  FAILS") << std::endl;
    failed += holds(outcome) ? 0 : 1;
  }
  return failed == 0 ? 0 : 1;
}

std::string word_after(const std::vector<std::string>& words, std::string_view name,
                       const std::string& otherwise) {
  for (std::size_t i = 0; i + 1 < words.size(); ++i)
    if (words[i] == name)
      return words[i + 1];
  return otherwise;
}

int print_following(const std::vector<std::string>& words) {
  std::vector<bench::Following> runs;
  for (const bool heavy : {false, true}) {
    StandModel model;
    model.inertia = heavy ? bench::heavy_rotor() : bench::light_rotor();
    runs.push_back(bench::follow(heavy ? "heavy plate" : "light plate", model,
                                 bench::long_program(), whirler::rpm_per_s(1000)));
    std::cout << to_text(runs.back());
  }
  const std::string file = word_after(words, "--trace", "");
  if (!file.empty())
    std::ofstream(file) << bench::drawing(runs);
  return 0;
}

int serve(const std::vector<std::string>& words) {
  StandModel model;
  model.image = word_after(words, "--image", "plain");
  model.inertia = whirler::kg_m2(std::atof(word_after(words, "--inertia", "1.4e-4").c_str()));
  bench::LiveStand stand(model);
  std::cout << stand.path() << std::endl;
  const double seconds = std::atof(word_after(words, "--seconds", "600").c_str());
  stand.run_for(bench::ms(seconds * 1e3));
  return 0;
}

int run(const std::vector<std::string>& words) {
  const std::string what = words.empty() ? "" : words.front();
  if (what == "sizes") {
    std::cout << to_text(bench::measure_sizes());
    return 0;
  }
  if (what == "faults")
    return print_faults(words);
  if (what == "chain")
    return print_chain(words);
  if (what == "follow")
    return print_following(words);
  if (what == "terminal")
    return serve(words);
  std::cerr << kUsage;
  return 2;
}

} // namespace

int main(int argc, char** argv) {
  try {
    return run({argv + 1, argv + argc});
  } catch (const std::exception& fault) {
    std::cerr << "firmware_bench: " << fault.what() << '\n';
    return 1;
  }
}
