// A coat as open files, and back:
//
//   coat.json     what was planned, with the files as they were, events and end; kind "coat"
//   pulses.csv    ticks,mark        a row a pulse; an empty mark: the drive did not know it
//   samples.csv   t_s,speed_rpm,target_rpm,drive_clock_s,command,segment
//
// coat.json says how many rows the other two have, so that a table that was cut short is no coat,
// and the SHA-256 of each ("pulses_sha256": what `sha256sum pulses.csv` prints). Its own stands in
// "sha256", of its text with that value left empty: a row that changed places, a figure or a key
// that somebody altered is seen.
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

/// Checksums that are missing (exports of earlier programs have none) or do not fit.
enum class BadChecksum { refuse, take };

/// The coat; its number is 0, and it is finished or broken off. `folder` names the files in faults.
[[nodiscard]] files::Read<Coat> coat_of(const CoatTexts& texts, const std::string& folder,
                                        BadChecksum bad = BadChecksum::refuse);

} // namespace whirler::notebook
