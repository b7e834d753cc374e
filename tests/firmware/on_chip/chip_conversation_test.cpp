// The firmware on the emulated chip holds the conversation.
#include "catch.hpp"
#include "conversation.hpp"

#include "stand.hpp"

namespace {

class ChipWire : public conversation::Wire {
 public:
  ChipWire()
      : chip_(std::string(FIRMWARE_IMAGES) + "/plain/whirler.elf"),
        rig_(chip_, bench::rig_model({})), line_(chip_, 1) {
    line_.on_received([this](std::uint8_t byte) { heard_.push_back(byte); });
    chip_.run_for(bench::ms(1200)); // long enough at rest to be believed
    began_ = chip_.now();
  }
  void send(std::span<const std::uint8_t> bytes) override { line_.send(bytes); }
  std::vector<std::uint8_t> pass(whirler::Duration span) override {
    chip_.run_for(bench::ms(span.ms()));
    return std::exchange(heard_, {});
  }
  void lid(bool open) override { rig_.lid(open); }
  whirler::Duration now() const override {
    return whirler::seconds(bench::to_s(chip_.now() - began_));
  }

 private:
  bench::Chip chip_;
  bench::Rig rig_;
  bench::SerialLine line_;
  std::vector<std::uint8_t> heard_;
  bench::Cycles began_ = 0;
};

} // namespace

TEST_CASE("the firmware holds the conversation", "[conversation]") {
  ChipWire wire;
  conversation::hold(wire);
}
