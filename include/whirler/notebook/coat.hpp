// A coat as the notebook keeps it: what was planned, with the files as they were; what was seen,
// sample by sample and pulse by pulse; how it ended.
//
// Everything that a coat is judged by later is in here, so that a stored coat read through the
// analysis years later gives the same answer, whatever has become of the files it was run from.
#pragma once

#include "whirler/notebook/instant.hpp"
#include "whirler/notebook/note.hpp"
#include "whirler/tach/pulses.hpp"
#include "whirler/units/quantities.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace whirler::notebook {

/// A file that the coat was run from, its text as it was.
struct KeptFile {
  std::string role; ///< "profile", "machine", "resist", "blank", "board"
  std::string name; ///< its path, as the person gave it
  std::string text;
  friend bool operator==(const KeptFile&, const KeptFile&) = default;
};

struct CoatStart {
  Instant started;
  std::string board; ///< the board's own mark or number; empty where none was given
  std::string side;  ///< as given: "top", "bottom", …; may be empty
  std::string profile;
  std::string machine;
  std::string resist; ///< names out of the files; empty where no file was given
  std::string blank;
  bool simulated = false;
  std::string driver; ///< who the driver said it is, with its version
  Duration tick;      ///< of the pulses
  int marks_per_turn = 0;
  std::vector<KeptFile> files;
  std::vector<std::string> cautions; ///< that the person has read and accepted
};

/// A report of the drive. Kept to 1 us, 1/1000 rpm and 1/1000 of the motor's range.
struct Sample {
  Duration at{}; ///< since the start, by this computer's clock
  Speed speed{}; ///< as the tach shows it
  Speed target{};
  Duration drive_clock{}; ///< the drive's own, to compare the two
  double command = 0.0;   ///< 0 to 1 of what the motor can be given
  int segment = -1;       ///< of the program; -1 where the drive names none
};

struct Event {
  Duration at; ///< since the start, by this computer's clock; kept to 1 us
  std::string text;
};

/// Pulses that passed but did not arrive, before a pulse of the train.
struct Gap {
  std::uint64_t before = 0; ///< index into the train; its size for a gap at the end
  std::uint64_t lost = 0;
  friend bool operator==(const Gap&, const Gap&) = default;
};

struct CoatEnd {
  std::string outcome; ///< "done", or the word for what ended it early
  std::string cause;   ///< for people; may be empty
  std::string verdict; ///< of the jitter: "even", …; empty where none was asked for
  std::string summary; ///< a JSON document of what the run reported; may be empty
  Duration length;     ///< from start to rest; kept to 1 us
};

enum class CoatState {
  finished,
  running,   ///< the program that writes it is alive
  broken_off ///< it is not, and never wrote an end
};
[[nodiscard]] std::string state_word(CoatState state);

/// A line of the log.
struct CoatLine {
  std::int64_t number = 0;
  Instant started;
  std::string board;
  std::string side;
  std::string profile;
  std::string machine;
  std::string resist;
  std::string blank;
  bool simulated = false;
  CoatState state = CoatState::broken_off;
  std::string outcome; ///< empty unless finished
  std::string verdict;
  std::optional<Length> wanted;   ///< the dry film, as the last note of the kind "thickness" has it
  std::optional<Length> measured; ///< the same of what a gauge or the scales told
  std::string fate; ///< kind of its last note that says what became of the film; empty: it lies
};

struct Coat {
  std::int64_t number = 0;
  std::string uid; ///< the same for ever, in every notebook that the coat is imported into
  CoatState state = CoatState::broken_off;
  CoatStart start;
  tach::PulseTrain pulses; ///< a mark of -1: the drive did not know which
  std::vector<Gap> gaps;
  std::vector<Sample> samples;
  std::vector<Event> events;
  std::vector<Note> notes;    ///< about this coat; `Note::coat` is its number here
  std::optional<CoatEnd> end; ///< none where it was broken off or still runs
};

} // namespace whirler::notebook
