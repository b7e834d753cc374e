#include "seal.hpp"

#include <array>
#include <bit>
#include <cstdint>
#include <vector>

namespace whirler::notebook {
namespace {

using Word = std::uint32_t;
using State = std::array<Word, 8>;

// First 32 bits of the fractions of the roots of the first primes (FIPS 180-4, 4.2.2 and 5.3.3).
constexpr State kStart{0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                       0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
constexpr std::array<Word, 64> kRounds{
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

constexpr std::size_t kBlock = 64;

std::array<Word, 64> schedule(const std::uint8_t* block) {
  std::array<Word, 64> w{};
  for (std::size_t i = 0; i < 16; ++i)
    for (std::size_t byte = 0; byte < 4; ++byte)
      w[i] = (w[i] << 8U) | block[4 * i + byte];
  for (std::size_t i = 16; i < w.size(); ++i) {
    const Word a = w[i - 15];
    const Word b = w[i - 2];
    w[i] = w[i - 16] + w[i - 7] + (std::rotr(a, 7) ^ std::rotr(a, 18) ^ (a >> 3U)) +
           (std::rotr(b, 17) ^ std::rotr(b, 19) ^ (b >> 10U));
  }
  return w;
}

void take_in(State& state, const std::uint8_t* block) {
  const auto w = schedule(block);
  auto [a, b, c, d, e, f, g, h] = state;
  for (std::size_t i = 0; i < w.size(); ++i) {
    const Word choice = (e & f) ^ (~e & g);
    const Word majority = (a & b) ^ (a & c) ^ (b & c);
    const Word first =
        h + (std::rotr(e, 6) ^ std::rotr(e, 11) ^ std::rotr(e, 25)) + choice + kRounds[i] + w[i];
    const Word second = (std::rotr(a, 2) ^ std::rotr(a, 13) ^ std::rotr(a, 22)) + majority;
    h = g;
    g = f;
    f = e;
    e = d + first;
    d = c;
    c = b;
    b = a;
    a = first + second;
  }
  const State mixed{a, b, c, d, e, f, g, h};
  for (std::size_t i = 0; i < state.size(); ++i)
    state[i] += mixed[i];
}

std::string hex(const State& state) {
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (const Word word : state)
    for (unsigned shift = 32; shift > 0; shift -= 4)
      text += kDigits[(word >> (shift - 4U)) & 0xFU];
  return text;
}

constexpr std::string_view kBefore = "\"sha256\": \"";
constexpr std::string_view kAfter = "\"\n}\n";
constexpr std::size_t kDigits = 64;

} // namespace

std::string sha256_hex(std::string_view bytes) {
  // A one, zeros, and the length in bits in the last eight bytes of a whole number of blocks.
  std::vector<std::uint8_t> padded(bytes.begin(), bytes.end());
  padded.push_back(0x80);
  padded.resize((padded.size() + 8 + kBlock - 1) / kBlock * kBlock);
  const std::uint64_t bits = std::uint64_t{8} * bytes.size();
  for (std::size_t i = 0; i < 8; ++i)
    padded[padded.size() - 1 - i] = static_cast<std::uint8_t>(bits >> (8 * i));
  State state = kStart;
  for (std::size_t at = 0; at < padded.size(); at += kBlock)
    take_in(state, &padded[at]);
  return hex(state);
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
