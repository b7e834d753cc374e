// A strict small check that a text is well-formed XML, as far as drawings use it: tags nest, every
// attribute is quoted and given once, no bare '&' or '<', only the five named entities and numbers.
#pragma once

#include <cctype>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::report {

/// Empty when well-formed, else what is wrong and about where.
class XmlCheck {
 public:
  explicit XmlCheck(std::string_view text) : text_(text) {}

  std::string fault() {
    if (text_.starts_with("<?xml"))
      at_ = text_.find("?>") + 2;
    while (at_ < text_.size() && fault_.empty())
      text_[at_] == '<' ? tag() : character();
    if (fault_.empty() && !open_.empty())
      fail("'" + open_.back() + "' is not closed");
    if (fault_.empty() && roots_ != 1)
      fail("there is not one root element");
    return fault_;
  }

 private:
  void fail(const std::string& what) {
    if (fault_.empty())
      fault_ = what + " at byte " + std::to_string(at_) + ": " +
               std::string(text_.substr(at_ < 20 ? 0 : at_ - 20, 60));
  }
  void character() {
    if (open_.empty() && std::isspace(static_cast<unsigned char>(text_[at_])) == 0)
      return fail("text outside the root");
    letter();
  }
  void letter() {
    if (text_[at_] == '&')
      return entity();
    if (static_cast<unsigned char>(text_[at_]) < 0x20 && text_[at_] != '\n' && text_[at_] != '\t')
      return fail("a control character");
    ++at_;
  }
  void entity() {
    const auto end = text_.find(';', at_);
    const auto name = end == std::string_view::npos ? "" : text_.substr(at_ + 1, end - at_ - 1);
    const std::set<std::string_view> known{"amp", "lt", "gt", "quot", "apos"};
    if (known.contains(name) || (name.starts_with('#') && name.size() > 1))
      at_ = end + 1;
    else
      fail("an unknown entity");
  }
  std::string word() {
    const auto from = at_;
    while (at_ < text_.size() && (std::isalnum(static_cast<unsigned char>(text_[at_])) != 0 ||
                                  text_[at_] == '-' || text_[at_] == ':'))
      ++at_;
    if (at_ == from)
      fail("a name is missing");
    return std::string(text_.substr(from, at_ - from));
  }
  void blanks() {
    while (at_ < text_.size() && std::isspace(static_cast<unsigned char>(text_[at_])) != 0)
      ++at_;
  }
  void attributes() {
    std::set<std::string> seen;
    for (blanks(); at_ < text_.size() && text_[at_] != '>' && text_[at_] != '/' && fault_.empty();
         blanks()) {
      if (!seen.insert(word()).second)
        return fail("an attribute is given twice");
      if (text_.substr(at_, 2) != "=\"")
        return fail("an attribute has no quoted value");
      for (at_ += 2; at_ < text_.size() && text_[at_] != '"' && fault_.empty();)
        text_[at_] == '<' ? fail("'<' in an attribute") : letter();
      ++at_;
    }
  }
  void tag() {
    ++at_;
    const bool closing = at_ < text_.size() && text_[at_] == '/';
    at_ += closing ? 1 : 0;
    const std::string name = word();
    if (closing) {
      if (open_.empty() || open_.back() != name)
        return fail("'" + name + "' closes nothing");
      open_.pop_back();
    } else {
      attributes();
      roots_ += open_.empty() ? 1 : 0;
      if (at_ < text_.size() && text_[at_] == '/')
        ++at_;
      else
        open_.push_back(name);
    }
    if (at_ >= text_.size() || text_[at_] != '>')
      return fail("a tag has no end");
    ++at_;
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::vector<std::string> open_;
  int roots_ = 0;
  std::string fault_;
};

inline std::string xml_fault(std::string_view text) { return XmlCheck(text).fault(); }

} // namespace whirler::report
