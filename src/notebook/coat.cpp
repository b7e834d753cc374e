#include "whirler/notebook/coat.hpp"

namespace whirler::notebook {

std::string state_word(CoatState state) {
  switch (state) {
  case CoatState::finished:
    return "finished";
  case CoatState::running:
    return "running";
  case CoatState::broken_off:
    return "broken_off";
  }
  return "";
}

} // namespace whirler::notebook
