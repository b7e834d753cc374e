#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "whirler/drive/prompt_thread.hpp"
#include "whirler/session/run_session.hpp"

#include "run_loop.hpp"
#include "whirler/drive/link_drive.hpp"

#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>

#include <algorithm>
#include <chrono>
#include <csignal>

namespace whirler::session {
namespace {

namespace asio = boost::asio;

/// Signals and the loop's own tick, until `cancel`. Handlers that are due already still come after
/// it and do nothing; the context has to be served once more before this object goes.
class Cues {
 public:
  Cues(asio::io_context& context, RunLoop& loop, double hurry)
      : loop_(loop), signals_(context, SIGINT, SIGTERM, SIGHUP), timer_(context),
        period_(std::max(std::chrono::microseconds(1000),
                         std::chrono::microseconds(static_cast<long>(20000.0 / hurry)))) {
    signals_.add(SIGTSTP);
    signals_.add(SIGQUIT);
    await_signal();
    await_tick();
  }
  void cancel() {
    cancelled_ = true;
    signals_.cancel();
    timer_.cancel();
  }

 private:
  void await_signal() {
    signals_.async_wait([this](boost::system::error_code error, int number) {
      if (error || cancelled_)
        return;
      loop_.on_signal(number);
      await_signal();
    });
  }
  void await_tick() {
    timer_.expires_after(period_);
    timer_.async_wait([this](boost::system::error_code error) {
      if (error || cancelled_)
        return;
      loop_.on_tick();
      await_tick();
    });
  }

  RunLoop& loop_;
  asio::signal_set signals_;
  asio::steady_timer timer_;
  std::chrono::microseconds period_;
  bool cancelled_ = false;
};

/// Runs the handlers that are due and still refer to what is about to go.
void settle(asio::io_context& context) {
  context.restart();
  context.poll();
}

RunResult not_started(std::vector<Fault> faults) {
  RunResult result;
  result.faults = std::move(faults);
  return result;
}

void serve_until_over(asio::io_context& context, const RunLoop& loop) {
  while (!loop.is_over()) {
    context.restart();
    context.run_one();
  }
}

RunResult run_checked(asio::io_context& context, RunLoop& loop, const drive::Identity& identity,
                      const OpenRecord& open_record) {
  auto record = open_record(identity);
  if (!record)
    return not_started({record.fault()});
  loop.record_into(record->get());
  RunResult result;
  result.identity = identity;
  result.coat = (*record)->number();
  if (auto fault = loop.start())
    result.faults.push_back(*fault);
  serve_until_over(context, loop);
  result.summary = loop.summary();
  loop.record_into(nullptr);
  const auto finished = (*record)->finish(*result.summary);
  if (!finished && result.summary->ending == run::Ending::completed) {
    result.summary->ending = run::Ending::record;
    result.summary->cause = to_text(finished.fault());
  }
  return result;
}

RunResult greet_and_run(asio::io_context& context, drive::Drive& drive, RunLoop& loop,
                        RunOrder& order, const OpenRecord& open_record, const Observer& observer) {
  const auto identity = drive.greet(loop, order.patience, [&loop] { return loop.asked_to_end(); });
  if (loop.asked_to_end())
    return not_started({{FaultKind::ended_early, "ended before anything turned", "", ""}});
  if (!identity)
    return not_started({identity.fault()});
  order.plan.driver = identity->facts;
  loop.greeted(*identity);
  if (observer.on_greeted)
    observer.on_greeted(*identity);
  if (auto refused = run::refusals(order.plan); !refused.empty())
    return not_started(std::move(refused));
  loop.accept_plan();
  return run_checked(context, loop, *identity, open_record);
}

} // namespace

RunResult execute(asio::io_context& context, drive::Drive& drive, const RunOrder& order,
                  const OpenRecord& open_record, const Observer& observer) {
  RunOrder checked = order;
  if (auto refused = run::refusals(checked.plan); !refused.empty())
    return not_started(std::move(refused));
  const auto timeline = profile::timeline(checked.plan.profile);
  if (!timeline)
    return not_started({timeline.fault()});
  RunLoop loop(drive, checked, *timeline, observer);
  Cues cues(context, loop, checked.hurry);
  auto result = greet_and_run(context, drive, loop, checked, open_record, observer);
  drive.stop_listening();
  cues.cancel();
  settle(context);
  return result;
}

RunResult execute_on_port(const std::string& path, int baud, std::uint32_t fresh,
                          const RunOrder& order, const OpenRecord& open_record,
                          const Observer& observer) {
  asio::io_context context;
  auto port = drive::SerialPort::open(context, path, baud);
  if (!port)
    return not_started({port.fault()});
  drive::LinkDrive link(context, std::move(*port), path, fresh);
  return execute(context, link, order, open_record, observer);
}

RunResult execute_on_modbus(const drive::ModbusPlace& place, std::uint32_t fresh,
                            const RunOrder& order, const OpenRecord& open_record,
                            const Observer& observer) {
  const drive::PromptThread prompt; // a stop on this line is timed here, not by a driver's firmware
  asio::io_context context;
  auto drive = drive::open_modbus(context, place, fresh);
  if (!drive)
    return not_started({drive.fault()});
  return execute(context, **drive, order, open_record, observer);
}

} // namespace whirler::session
