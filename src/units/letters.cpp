#include "whirler/units/letters.hpp"

#include <algorithm>
#include <array>
#include <climits>
#include <cwchar>
#include <cwctype>
#include <iterator>
#include <locale.h>

namespace whirler {
namespace {

/// While it lives, this thread's letters are those of Unicode.
class UnicodeLetters {
 public:
  UnicodeLetters() : before_(uselocale(unicode())) {}
  ~UnicodeLetters() { uselocale(before_); }
  UnicodeLetters(const UnicodeLetters&) = delete;
  UnicodeLetters& operator=(const UnicodeLetters&) = delete;

 private:
  /// Made once. A C library without it gives none, and the thread's own stays.
  static locale_t unicode() {
    static const locale_t made = newlocale(LC_CTYPE_MASK, "C.UTF-8", locale_t{});
    return made;
  }
  locale_t before_;
};

bool is_ascii(std::string_view text) {
  return std::all_of(text.begin(), text.end(),
                     [](char c) { return static_cast<unsigned char>(c) < 0x80U; });
}

char folded_ascii(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Hands every letter to `letter`, with its bytes, and what is none to `byte`.
template <class Letter, class Byte>
void each(std::string_view text, const Letter& letter, const Byte& byte) {
  const UnicodeLetters here;
  while (!text.empty()) {
    std::mbstate_t state{};
    wchar_t wide = 0;
    const std::size_t size = std::mbrtowc(&wide, text.data(), text.size(), &state);
    const bool good = size > 0 && size <= text.size(); // the faults are the largest numbers
    if (good)
      letter(wide, text.substr(0, size));
    else
      byte(text.front());
    text.remove_prefix(good ? size : 1);
  }
}

} // namespace

std::string folded(std::string_view text) {
  std::string small;
  small.reserve(text.size());
  if (is_ascii(text)) {
    std::transform(text.begin(), text.end(), std::back_inserter(small), folded_ascii);
    return small;
  }
  const auto add = [&](wchar_t wide, std::string_view bytes) {
    std::array<char, MB_LEN_MAX> made{};
    std::mbstate_t state{};
    const auto lower = static_cast<wchar_t>(std::towlower(static_cast<std::wint_t>(wide)));
    const std::size_t size = std::wcrtomb(made.data(), lower, &state);
    small += size <= made.size() ? std::string_view(made.data(), size) : bytes;
  };
  each(text, add, [&](char byte) { small += byte; });
  return small;
}

std::size_t columns(std::string_view text) {
  if (is_ascii(text))
    return text.size();
  std::size_t wide = 0;
  const auto add = [&](wchar_t letter, std::string_view) {
    const int takes = wcwidth(letter);
    wide += takes < 0 ? 1 : static_cast<std::size_t>(takes);
  };
  each(text, add, [&](char) { ++wide; });
  return wide;
}

} // namespace whirler
