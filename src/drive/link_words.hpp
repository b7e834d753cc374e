// What the link's messages mean to a run.
#pragma once

#include "whirler/drive/drive.hpp"
#include "whirler/link/messages.hpp"
#include "whirler/link/stop_sequence.hpp"

namespace whirler::drive {

[[nodiscard]] Identity identity_from(const link::HelloReply& reply, const link::Status& status);
/// `ours`: the report is about the program that this host started.
[[nodiscard]] Report report_from(const link::Status& status, Duration clock, bool ours);
/// The report shows that a stop of this kind was obeyed (or that something harder has happened).
[[nodiscard]] bool obeys(const link::Status& status, link::StopKind kind);
[[nodiscard]] inline Duration milliseconds_of(std::uint64_t count) {
  return milliseconds(static_cast<double>(count));
}

} // namespace whirler::drive
