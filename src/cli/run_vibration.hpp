// Whether a plate shook: one judgement of a run, for its last words, its JSON, the log, the page
// and the trend.
//
// The whole record is judged, since a run-up or a baseline can tell what could not be seen while it
// turned. It is done when the run is over and before its end is written, so that the log has the
// same word. A run that the watch stopped is a stop, whatever its short record says by itself.
#pragma once

#include "coat_reading.hpp"
#include "context.hpp"
#include "whirler/session/record.hpp"

#include <string>

namespace whirler::cli {

/// Of a coat that has ended or was broken off; the recorded verdict where its pulses cannot be
/// read.
[[nodiscard]] tach::Judgement judgement_of(const notebook::Coat& coat, const CoatReading& reading);

struct Vibration {
  tach::Judgement judgement;
  Json document;      ///< the keys of `jitter`
  std::string figure; ///< "0.3 mrad (95 %: 0.28 to 0.33) at 3000 rpm"; empty where there is none
};

/// Of a run that is over, as far as it is stored. `reading` is null where the record cannot be read
/// back: then what was seen while it turned has to do.
[[nodiscard]] Vibration vibration_of(const session::Summary& summary, const CoatReading* reading,
                                     const std::string& source);

} // namespace whirler::cli
