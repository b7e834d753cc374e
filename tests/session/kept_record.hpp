// A run's record in memory, for tests.
#pragma once

#include "whirler/session/record.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::test {

/// What a record was told. `fails_after` reports, it says that the disk is full.
struct Kept {
  std::vector<std::string> events;
  std::size_t reports = 0;
  std::size_t pulses = 0;
  std::size_t fails_after = 1000000;
  std::optional<session::Summary> finished;
};

class MemoryRecord final : public session::Record {
 public:
  explicit MemoryRecord(Kept& kept) : kept_(kept) {}
  void report(const drive::Report&, Speed, Duration) override { ++kept_.reports; }
  void pulses(const drive::PulseBatch& batch) override { kept_.pulses += batch.ticks.size(); }
  void event(const std::string& text, Duration) override { kept_.events.push_back(text); }
  Outcome finish(const session::Summary& summary) override {
    kept_.finished = summary;
    return Done{};
  }
  std::optional<Fault> fault() const override {
    if (kept_.reports < kept_.fails_after)
      return std::nullopt;
    return Fault{FaultKind::ended_early, "the disk is full", "notebook", "make room"};
  }
  std::int64_t number() const override { return 7; }

 private:
  Kept& kept_;
};

} // namespace whirler::test
