#include "seal.hpp"

#include <array>
#include <boost/algorithm/hex.hpp>
#include <iterator>
#include <openssl/evp.h>
#include <stdexcept>

namespace whirler::notebook {
namespace {

constexpr std::string_view kBefore = "\"sha256\": \"";
constexpr std::string_view kAfter = "\"\n}\n";
constexpr std::size_t kDigits = 64;

} // namespace

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned length = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) != 1)
    throw std::runtime_error("this machine's OpenSSL has no SHA-256");
  std::string text;
  boost::algorithm::hex_lower(digest.begin(), digest.begin() + length, std::back_inserter(text));
  return text;
}

std::string sealed(std::string document) {
  document.insert(document.size() - kAfter.size(), sha256_hex(document));
  return document;
}

std::optional<bool> seal_fits(std::string_view document) {
  const std::size_t ends = kBefore.size() + kDigits + kAfter.size();
  if (document.size() < ends || !document.ends_with(kAfter) ||
      document.substr(document.size() - ends, kBefore.size()) != kBefore)
    return std::nullopt;
  std::string without(document);
  const std::size_t at = document.size() - kAfter.size() - kDigits;
  without.erase(at, kDigits);
  return sha256_hex(without) == document.substr(at, kDigits);
}

} // namespace whirler::notebook
