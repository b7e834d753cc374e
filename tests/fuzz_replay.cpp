// Runs a fuzz target's kept inputs as an ordinary test, without libFuzzer: every file of the corpus
// (past crashes among them), then each of them cut at every length and with bits flipped in a way
// that is the same on every machine. A target that aborts, or that a sanitizer stops, fails.
//
//   replay_x CORPUS_FOLDER
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

using Bytes = std::vector<std::uint8_t>;

void feed(const Bytes& bytes, std::size_t length) {
  const Bytes exact(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(length));
  LLVMFuzzerTestOneInput(exact.data(), exact.size()); // a copy of that size: reading past it shows
}

void feed_cut(const Bytes& bytes) {
  constexpr std::size_t kMostCuts = 512;
  const std::size_t step = 1 + bytes.size() / kMostCuts;
  for (std::size_t length = 0; length < bytes.size(); length += step)
    feed(bytes, length);
  feed(bytes, bytes.size());
}

void feed_flipped(const Bytes& bytes, std::mt19937& random) {
  constexpr int kCopies = 256;
  for (int copy = 0; copy < kCopies && !bytes.empty(); ++copy) {
    Bytes hurt = bytes;
    const int flips = 1 + copy % 8;
    for (int flip = 0; flip < flips; ++flip)
      hurt[random() % hurt.size()] ^= static_cast<std::uint8_t>(1U << (random() % 8));
    feed(hurt, hurt.size());
  }
}

} // namespace

int main(int argc, char** argv) {
  if (argc != 2)
    return 2;
  std::mt19937 random(20240229); // any number will do, as long as it stays the same
  int files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(argv[1])) {
    std::ifstream file(entry.path(), std::ios::binary);
    const Bytes bytes{std::istreambuf_iterator<char>(file), {}};
    feed_cut(bytes);
    feed_flipped(bytes, random);
    ++files;
  }
  std::printf("%d inputs replayed, each also cut and flipped\n", files);
  return files > 0 ? 0 : 1; // an empty corpus would be a test of nothing
}
