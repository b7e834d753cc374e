// The simulated driver of room `plant` holds the conversation that the firmware holds on its chip.
#include "catch.hpp"
#include "conversation/conversation.hpp"

#include "whirler/plant/simulated_driver.hpp"

namespace {

whirler::plant::Setup setup() {
  const auto made = whirler::plant::make_setup(whirler::plant::plain_machine(), std::nullopt);
  REQUIRE(made.ok());
  return *made;
}

class SimulatedWire : public conversation::Wire {
 public:
  SimulatedWire() : driver_(setup()) {}
  void send(std::span<const std::uint8_t> bytes) override { driver_.receive(bytes); }
  std::vector<std::uint8_t> pass(whirler::Duration span) override {
    driver_.advance(span);
    passed_ += span;
    return driver_.take_output();
  }
  void lid(bool open) override { driver_.lid(open); }
  [[nodiscard]] whirler::Duration now() const override { return passed_; }

 private:
  whirler::plant::SimulatedDriver driver_;
  whirler::Duration passed_;
};

} // namespace

TEST_CASE("the simulated driver holds the conversation") {
  SimulatedWire wire;
  conversation::hold(wire);
}
