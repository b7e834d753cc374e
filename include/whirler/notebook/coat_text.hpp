// A coat as open files, and back:
//
//   coat.json     what was planned, with the files as they were, events and end; kind "coat"
//   pulses.csv    ticks,mark        a row a pulse; an empty mark: the drive did not know it
//   samples.csv   t_s,speed_rpm,target_rpm,drive_clock_s,command,segment
//
// coat.json says how many rows the other two have, so that a table that was cut short is no coat.
// Everything that the notebook keeps is in them, but for the coat's number, which is the
// notebook's own: text to coat to text gives the same bytes, in this notebook or another.
#pragma once

#include "whirler/files/file_fault.hpp"
#include "whirler/notebook/coat.hpp"

#include <string>

namespace whirler::notebook {

inline constexpr const char* kCoatFile = "coat.json";
inline constexpr const char* kPulsesFile = "pulses.csv";
inline constexpr const char* kSamplesFile = "samples.csv";

struct CoatTexts {
  std::string coat;
  std::string pulses;
  std::string samples;
};

[[nodiscard]] CoatTexts texts_of(const Coat& coat);

/// The coat; its number is 0, and it is finished or broken off. `folder` names the files in faults.
[[nodiscard]] files::Read<Coat> coat_of(const CoatTexts& texts, const std::string& folder);

} // namespace whirler::notebook
