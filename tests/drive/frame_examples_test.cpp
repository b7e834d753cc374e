// The examples of the "MODBUS Application Protocol Specification" V1.1b3, as libmodbus puts them on
// a line and takes their answers: two programs by different people, the same bytes.
#include "pty_pair.hpp"
#include "whirler/modbus/frame.hpp"

#include <modbus/modbus.h>

#include <cerrno>
#include <functional>
#include <thread>

using namespace whirler::modbus;
using namespace whirler::test;

namespace {

using Words = std::vector<std::uint16_t>;
constexpr std::uint8_t kUnit = 17;

/// libmodbus's master on one end of a line, and the other end here.
class OtherMaster {
 public:
  OtherMaster() : master_(modbus_new_rtu(far_.path().c_str(), 19200, 'E', 8, 1)) {
    REQUIRE(master_ != nullptr);
    modbus_set_slave(master_, kUnit);
    modbus_set_response_timeout(master_, 5, 0);
    REQUIRE(modbus_connect(master_) == 0);
  }
  ~OtherMaster() {
    modbus_close(master_);
    modbus_free(master_);
  }
  OtherMaster(const OtherMaster&) = delete;
  OtherMaster& operator=(const OtherMaster&) = delete;

  /// What it sent for `call`, which gets `answer`; and what the call returned.
  std::vector<std::uint8_t> sent(const std::function<int(modbus_t*)>& call,
                                 const std::vector<std::uint8_t>& answer) {
    std::vector<std::uint8_t> heard;
    std::thread drive([&] {
      heard = far_.read(5000);
      far_.write(answer);
    });
    returned_ = call(master_);
    error_ = errno;
    drive.join();
    return heard;
  }
  [[nodiscard]] int returned() const { return returned_; }
  [[nodiscard]] int error() const { return error_; }

 private:
  PtyPair far_;
  modbus_t* master_;
  int returned_ = 0;
  int error_ = 0;
};

} // namespace

TEST_CASE("published: libmodbus sends the specification's register examples in the same bytes, and "
          "takes our answers (AP 6.3, 6.4, 6.6, 6.12)") {
  OtherMaster other;
  Words words(3);
  const auto holding = read_request(kUnit, Function::read_holding, 0x006B, 3);
  const Words held{0x022B, 0x0000, 0x0064};
  CHECK(other.sent([&](modbus_t* m) { return modbus_read_registers(m, 0x6B, 3, words.data()); },
                   encode_reply(holding, held)) == encode(holding));
  CHECK(words == held);
  const auto input = read_request(kUnit, Function::read_input, 8, 1);
  CHECK(other.sent([&](modbus_t* m) { return modbus_read_input_registers(m, 8, 1, words.data()); },
                   encode_reply(input, Words{10})) == encode(input));
  CHECK(words[0] == 10);
  const auto one = write_request(kUnit, Function::write_one, 1, {3});
  CHECK(other.sent([](modbus_t* m) { return modbus_write_register(m, 1, 3); },
                   encode_reply(one, {})) == encode(one));
  CHECK(other.returned() == 1);
  const Words two{0x000A, 0x0102};
  const auto many = write_request(kUnit, Function::write_many, 1, two);
  CHECK(other.sent([&](modbus_t* m) { return modbus_write_registers(m, 1, 2, two.data()); },
                   encode_reply(many, {})) == encode(many));
  CHECK(other.returned() == 2);
}

TEST_CASE("published: libmodbus sends the specification's examples of bits in the same bytes, and "
          "takes our answers (AP 6.1, 6.2, 6.5)") {
  OtherMaster other;
  std::vector<std::uint8_t> bits(22);
  const auto coils = read_request(kUnit, Function::read_coils, 0x13, 19);
  CHECK(other.sent([&](modbus_t* m) { return modbus_read_bits(m, 0x13, 19, bits.data()); },
                   encode_reply(coils, Words{0x6BCD, 0x0005})) == encode(coils));
  // CD, 6B and 5, the lowest bit first.
  CHECK(bits == std::vector<std::uint8_t>{1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0,
                                          1, 0, 1, 1, 0, 1, 0, 1, 0, 0, 0});
  const auto inputs = read_request(kUnit, Function::read_discrete, 0xC4, 22);
  CHECK(other.sent([&](modbus_t* m) { return modbus_read_input_bits(m, 0xC4, 22, bits.data()); },
                   encode_reply(inputs, Words{0xDBAC, 0x0035})) == encode(inputs));
  CHECK(bits == std::vector<std::uint8_t>{0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0,
                                          1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1});
  const auto coil = write_request(kUnit, Function::write_coil, 0xAC, {1});
  CHECK(other.sent([](modbus_t* m) { return modbus_write_bit(m, 0xAC, 1); },
                   encode_reply(coil, {})) == encode(coil));
  CHECK(other.returned() == 1);
}

TEST_CASE("published: libmodbus takes our exception for what it says (AP 7)") {
  OtherMaster other;
  std::uint8_t bit = 0;
  const auto coil = read_request(kUnit, Function::read_coils, 0x04A1, 1);
  CHECK(other.sent([&](modbus_t* m) { return modbus_read_bits(m, 0x04A1, 1, &bit); },
                   encode_exception(coil, 2)) == encode(coil));
  CHECK(other.returned() == -1);
  CHECK(other.error() == EMBXILADD);
}
