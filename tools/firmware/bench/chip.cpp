#include "chip.hpp"

extern "C" {
#include <avr_extint.h>
#include <avr_ioport.h>
#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_elf.h>
}

#include <algorithm>
#include <cstring>
#include <stdexcept>

namespace bench {

namespace {

// Registers of the ATmega328P, by data address (data sheet DS40002061B, register summary).
constexpr std::uint16_t kMcusr = 0x54;
constexpr std::uint16_t kTccr1a = 0x80;
constexpr std::uint16_t kTccr0a = 0x44;
constexpr std::uint16_t kOcr0a = 0x47;
constexpr std::uint32_t kDataSpace = 0x800000; ///< where the linker puts RAM
constexpr std::uint8_t kPaint = 0xC5;
constexpr Cycles kByteCycles = 320; ///< 10 bits at 500000 baud
constexpr std::uint16_t kSleepOpcode = 0x9588;
constexpr std::uint16_t kJumpHere = 0xCFFF;
constexpr std::uint32_t kBootSection = 0x7E00; ///< of 512 bytes
/// What the chip takes to enter an interrupt and the emulator does not count, and the RETI that it
/// has not yet counted when it says that the interrupt is over.
constexpr Cycles kEntryCycles = 4;
constexpr Cycles kReturnCycles = 4;

struct Vector {
  int number;
  const char* name;
};
constexpr Vector kVectors[] = {{1, "lid (INT0)"},
                               {2, "wide mark (INT1)"},
                               {7, "millisecond (TIMER2_COMPA)"},
                               {10, "tach (TIMER1_CAPT)"},
                               {11, "servo edge (TIMER1_COMPA)"},
                               {13, "overflow (TIMER1_OVF)"},
                               {18, "byte in (USART_RX)"},
                               {19, "byte out (USART_UDRE)"}};
constexpr int kServoVector = 11;

std::uint8_t data_at(const avr_t* avr, std::uint16_t address) { return avr->data[address]; }

avr_uart_t* find_uart(avr_t* avr) {
  for (avr_io_t* io = avr->io_port; io; io = io->next)
    if (std::strcmp(io->kind, "uart") == 0)
      return reinterpret_cast<avr_uart_t*>(io); // its first member
  throw std::runtime_error("the emulator has no UART");
}

} // namespace

struct Hooks {
  static Chip& chip(void* param) { return *static_cast<Chip*>(param); }

  static avr_cycle_count_t due(avr_t*, avr_cycle_count_t when, void* param) {
    chip(param).run_due(when);
    return 0;
  }
  static void enable_pin(avr_irq_t*, std::uint32_t, void* param) { chip(param).enable_changed(); }
  static void servo_match(avr_irq_t*, std::uint32_t value, void* param) {
    if (value)
      chip(param).servo_edge();
  }
  static void sent(avr_irq_t*, std::uint32_t value, void* param) {
    chip(param).byte_written(static_cast<std::uint8_t>(value));
  }
  static void running(avr_irq_t*, std::uint32_t value, void* param) {
    const auto& watched = *static_cast<Chip::Watched*>(param);
    Chip& chip = *watched.chip;
    if (value) {
      chip.interrupt_began_[watched.vector] = chip.avr_->cycle;
      return;
    }
    InterruptTime& time = chip.interrupts_[watched.vector];
    time.count++;
    time.longest = std::max(time.longest, chip.avr_->cycle - chip.interrupt_began_[watched.vector] +
                                              kEntryCycles + kReturnCycles);
  }
  static void reset(avr_t* avr) {
    Chip& chip = *static_cast<Chip*>(avr->custom.data);
    if (chip.chip_reset_)
      chip.chip_reset_(avr);
    chip.was_reset_ = true;
  }
  static void no_sleep(avr_t*, avr_cycle_count_t) {}
  static void no_log(avr_t*, int, const char*, va_list) {}
};

Chip::Chip(const std::string& elf) {
  avr_global_logger_set(&Hooks::no_log);
  avr_ = avr_make_mcu_by_name("atmega328p");
  if (!avr_)
    throw std::runtime_error("the emulator does not know the atmega328p");
  avr_init(avr_);
  load(elf);
  uart_ = find_uart(avr_);
  uart_->flags = 0;
  avr_->custom.data = this;
  chip_reset_ = avr_->reset;
  avr_->reset = &Hooks::reset;
  avr_->sleep = &Hooks::no_sleep;
  avr_->run_cycle_limit = kCyclesPerMs; // instructions run in one go up to the next event
  watch();
  const std::uint32_t heap = symbol("__heap_start") - kDataSpace;
  std::fill(avr_->data + heap, avr_->data + avr_->ramend + 1, kPaint);
  reset(ResetCause::power_on);
}

Chip::~Chip() {
  avr_terminate(avr_);
  std::free(avr_);
}

void Chip::load(const std::string& elf) {
  elf_firmware_t firmware{};
  if (elf_read_firmware(elf.c_str(), &firmware) != 0)
    throw std::runtime_error("cannot read the firmware '" + elf + "'; run make in tools/firmware");
  avr_load_firmware(avr_, &firmware);
  avr_->frequency = kCyclesPerSecond;
  flash_used_ = firmware.flashsize;
  for (std::uint32_t i = 0; i < firmware.symbolcount; ++i)
    symbols_[firmware.symbol[i]->symbol] = firmware.symbol[i]->addr;
}

void Chip::watch() {
  avr_irq_t* enable = avr_io_getirq(
      avr_, AVR_IOCTL_IOPORT_GETIRQ(static_cast<std::uint32_t>(kEnablePin.port)), kEnablePin.bit);
  avr_irq_register_notify(enable, &Hooks::enable_pin, this);
  avr_irq_t* output = avr_io_getirq(avr_, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT);
  avr_irq_register_notify(output, &Hooks::sent, this);
  for (const Vector& vector : kVectors) {
    interrupts_[vector.number] = {vector.name, 0, 0};
    watched_.push_back({this, vector.number});
    avr_irq_t* irq = avr_get_interrupt_irq(avr_, static_cast<std::uint8_t>(vector.number));
    avr_irq_register_notify(irq + AVR_INT_IRQ_RUNNING, &Hooks::running, &watched_.back());
    if (vector.number == kServoVector)
      avr_irq_register_notify(irq + AVR_INT_IRQ_PENDING, &Hooks::servo_match, this);
  }
}

Cycles Chip::now() const { return avr_->cycle; }

std::uint32_t Chip::symbol(const std::string& name) const {
  const auto found = symbols_.find(name);
  if (found == symbols_.end())
    throw std::runtime_error("the firmware has no symbol '" + name + "'");
  return found->second;
}

// ---- time

void Chip::at(Cycles when, std::function<void()> event) {
  events_.emplace(std::max(when, now()), std::move(event));
  arm();
}

/// One timer of the emulator serves all: it stands at the first event.
void Chip::arm() {
  avr_cycle_timer_cancel(avr_, &Hooks::due, this);
  if (events_.empty() || held_)
    return;
  const Cycles first = events_.begin()->first;
  const Cycles ahead = first > avr_->cycle ? first - avr_->cycle : 1;
  avr_cycle_timer_register(avr_, ahead, &Hooks::due, this);
}

/// The emulator calls late, by an instruction or by all that ran in one go; each event still has
/// its own cycle, and what is past by now has its turn too.
void Chip::run_due(Cycles when) {
  const Cycles actual = std::max(avr_->cycle, when);
  while (!events_.empty() && events_.begin()->first <= actual) {
    auto node = events_.extract(events_.begin());
    avr_->cycle = node.key();
    node.mapped()();
  }
  avr_->cycle = actual;
  arm();
}

void Chip::run_until(Cycles when) {
  bool reached = false;
  events_.emplace(when, [&reached] { reached = true; });
  events_.emplace(when + 1, [] {}); // else a sleeping chip would sleep on to its own next event
  arm();
  while (!reached) {
    if (held_) {
      avr_->cycle = std::max(avr_->cycle, events_.begin()->first);
      run_due(avr_->cycle);
      continue;
    }
    const int state = avr_run(avr_);
    if (state == cpu_Done || state == cpu_Crashed)
      throw std::runtime_error("the firmware crashed, or slept with its interrupts off");
    if (was_reset_)
      recover_from_reset();
  }
}

// ---- reset

void Chip::reset(ResetCause cause) {
  avr_reset(avr_);
  avr_->data[kMcusr] = static_cast<std::uint8_t>(cause);
  was_reset_ = true;
  recover_from_reset();
}

void Chip::recover_from_reset() {
  was_reset_ = false;
  ++resets_;
  if (hung_at_)
    std::memcpy(avr_->flash + *hung_at_, &kSleepOpcode, sizeof kSleepOpcode);
  hung_at_.reset();
  last_reset_ = static_cast<ResetCause>(data_at(avr_, kMcusr) & 0x0F);
  if (data_at(avr_, kMcusr) & static_cast<std::uint8_t>(ResetCause::watchdog))
    last_reset_ = ResetCause::watchdog;
  avr_extint_set_strict_lvl_trig(avr_, 0, 0);
  avr_extint_set_strict_lvl_trig(avr_, 1, 0);
  servo_rose_.reset();
  line_free_ = 0;
  for (const auto& [pin, high] : driven_)
    set_again({pin.first, pin.second});
  enable_changed();
  arm();
}

void Chip::hold_in_reset() {
  reset(ResetCause::brown_out);
  held_ = true;
}

void Chip::release(ResetCause cause) {
  held_ = false;
  reset(cause);
}

void Chip::load_boot_loader(const std::string& elf) {
  elf_firmware_t loader{};
  if (elf_read_firmware(elf.c_str(), &loader) != 0)
    throw std::runtime_error("cannot read the boot loader '" + elf + "'");
  std::memcpy(avr_->flash + kBootSection, loader.flash, loader.flashsize);
  avr_->reset_pc = kBootSection;
  avr_->codeend = avr_->flashend;
}

void Chip::hang(bool interrupts_too) {
  for (std::uint32_t i = 0; i + 1 < flash_used_; i += 2) {
    std::uint16_t opcode = 0;
    std::memcpy(&opcode, avr_->flash + i, sizeof opcode);
    if (opcode != kSleepOpcode)
      continue;
    hung_at_ = i;
    std::memcpy(avr_->flash + i, &kJumpHere, sizeof kJumpHere);
  }
  if (!interrupts_too)
    return;
  avr_->sreg[S_I] = 0;
  avr_->state = cpu_Running; // asleep without interrupts it would never come to the hang
}

// ---- pins

void Chip::drive(Pin pin, bool high) {
  driven_[{pin.port, pin.bit}] = high;
  set_again(pin);
}

void Chip::set_again(Pin pin) {
  avr_ioport_external_t external{};
  external.name = static_cast<unsigned char>(pin.port) & 0x7F;
  for (const auto& [driven, high] : driven_)
    if (driven.first == pin.port) {
      external.mask |= static_cast<unsigned char>(1U << driven.second);
      external.value |= static_cast<unsigned char>((high ? 1U : 0U) << driven.second);
    }
  avr_ioctl(avr_, AVR_IOCTL_IOPORT_SET_EXTERNAL(static_cast<std::uint32_t>(pin.port)), &external);
  avr_irq_t* irq =
      avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ(static_cast<std::uint32_t>(pin.port)), pin.bit);
  avr_raise_irq(irq, driven_[{pin.port, pin.bit}] ? 1 : 0);
}

bool Chip::output(Pin pin) const {
  const std::uint16_t ddr = pin.port == 'B' ? 0x24 : 0x2A;
  const std::uint16_t port = static_cast<std::uint16_t>(ddr + 1);
  return ((data_at(avr_, ddr) & data_at(avr_, port)) >> pin.bit & 1) != 0;
}

void Chip::enable_changed() {
  const bool level = output(kEnablePin);
  if (level == enable_level_)
    return;
  enable_level_ = level;
  if (enable_listener_)
    enable_listener_(level);
}

void Chip::servo_edge() {
  const int mode = data_at(avr_, kTccr1a) >> 6;
  if (mode == 3)
    servo_rose_ = avr_->cycle;
  if (mode == 2 && servo_rose_ && servo_) {
    servo_(avr_->cycle - *servo_rose_);
    servo_rose_.reset();
  }
}

double Chip::pwm_duty() const {
  if ((data_at(avr_, kTccr0a) >> 6) != 2)
    return 0.0;
  return (data_at(avr_, kOcr0a) + 1) / 256.0;
}

// ---- the serial line

void Chip::keep_byte_time() { uart_->cycles_per_byte = kByteCycles; }

bool Chip::receive(std::uint8_t byte) {
  keep_byte_time();
  const int unread = (uart_->input.write - uart_->input.read) & (uart_fifo_fifo_size - 1);
  if (held_)
    return false;
  if (unread > 3) { // two bytes kept, one shifting in
    ++overruns_;
    return false;
  }
  avr_irq_t* input = avr_io_getirq(avr_, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
  avr_raise_irq(input, byte);
  return true;
}

void Chip::byte_written(std::uint8_t byte) {
  keep_byte_time();
  const Cycles begins = std::max(now(), line_free_);
  line_free_ = begins + kByteCycles;
  at(line_free_, [this, byte] {
    if (sent_)
      sent_(byte);
  });
}

void Chip::poke16(const std::string& variable, std::uint16_t value) {
  std::memcpy(avr_->data + (symbol(variable) - kDataSpace), &value, sizeof value);
}

// ---- what it took

std::vector<InterruptTime> Chip::interrupt_times() const {
  std::vector<InterruptTime> times;
  for (const auto& [number, time] : interrupts_)
    if (time.count)
      times.push_back(time);
  return times;
}

std::size_t Chip::stack_size() const {
  return avr_->ramend + 1 - (symbol("__heap_start") - kDataSpace);
}

std::size_t Chip::stack_used() const {
  constexpr std::size_t kMarked = 8; // the firmware's own mark below the stack
  const std::uint8_t* bottom = avr_->data + (symbol("__heap_start") - kDataSpace) + kMarked;
  const std::uint8_t* top = avr_->data + avr_->ramend + 1;
  return static_cast<std::size_t>(
      top - std::find_if(bottom, top, [](std::uint8_t byte) { return byte != kPaint; }));
}

std::size_t Chip::variables() const { return symbol("__heap_start") - kDataSpace - 0x100; }

} // namespace bench
