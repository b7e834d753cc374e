// Reads tests/link/vectors.txt; its head says what the records are.
#pragma once

#include <charconv>
#include <cstdint>
#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::vectors {

using Bytes = std::vector<std::uint8_t>;
using Fields = std::map<std::string, std::string, std::less<>>;

struct FrameVector {
  std::string name;
  bool from_host = false;
  std::uint8_t type = 0;
  std::uint8_t seq = 0;
  Bytes payload;
  Bytes wire;
  Fields fields;

  [[nodiscard]] std::uint32_t number(std::string_view key) const {
    const auto found = fields.find(key);
    if (found == fields.end())
      throw std::runtime_error(name + " has no field " + std::string(key));
    return static_cast<std::uint32_t>(std::stoull(found->second));
  }
};

struct StreamVector {
  std::string name;
  bool read_by_driver = false;
  Bytes bytes;
  Fields expected;
};

struct ProgramVector {
  std::string name;
  Bytes payloads;
  std::uint32_t crc = 0;
};

struct Vectors {
  std::vector<FrameVector> frames;
  std::vector<StreamVector> streams;
  std::vector<ProgramVector> programs;
};

inline Bytes from_hex(std::string_view text) {
  Bytes bytes;
  if (text == "-")
    return bytes;
  for (std::size_t i = 0; i + 1 < text.size(); i += 2) {
    std::uint8_t byte = 0;
    const auto* end = text.data() + i + 2;
    if (std::from_chars(text.data() + i, end, byte, 16).ptr != end)
      throw std::runtime_error("not hexadecimal: " + std::string(text));
    bytes.push_back(byte);
  }
  return bytes;
}

inline Fields read_fields(std::istringstream& words) {
  Fields fields;
  for (std::string word; words >> word;)
    fields[word.substr(0, word.find('='))] = word.substr(word.find('=') + 1);
  return fields;
}

inline FrameVector read_frame(std::istringstream& words) {
  FrameVector v;
  std::string sender, type, seq, payload, wire;
  words >> v.name >> sender >> type >> seq >> payload >> wire;
  v.from_host = sender == "host";
  v.type = from_hex(type).at(0);
  v.seq = from_hex(seq).at(0);
  v.payload = from_hex(payload);
  v.wire = from_hex(wire);
  return v;
}

inline StreamVector read_stream(std::istringstream& words) {
  StreamVector v;
  std::string reader, bytes;
  words >> v.name >> reader >> bytes;
  v.read_by_driver = reader == "driver";
  v.bytes = from_hex(bytes);
  v.expected = read_fields(words);
  return v;
}

inline ProgramVector read_program(std::istringstream& words) {
  ProgramVector v;
  std::string payloads, crc;
  words >> v.name >> payloads >> crc;
  v.payloads = from_hex(payloads);
  v.crc = static_cast<std::uint32_t>(std::stoull(crc, nullptr, 16));
  return v;
}

inline Vectors read(const std::string& path) {
  std::ifstream file(path);
  if (!file)
    throw std::runtime_error("cannot open " + path);
  Vectors all;
  for (std::string line; std::getline(file, line);) {
    std::istringstream words(line);
    std::string kind;
    words >> kind;
    if (kind == "frame") {
      all.frames.push_back(read_frame(words));
    } else if (kind == "fields") {
      std::string name;
      words >> name;
      if (all.frames.empty() || all.frames.back().name != name)
        throw std::runtime_error("fields without their frame: " + name);
      all.frames.back().fields = read_fields(words);
    } else if (kind == "stream") {
      all.streams.push_back(read_stream(words));
    } else if (kind == "program") {
      all.programs.push_back(read_program(words));
    }
  }
  return all;
}

inline const Vectors& all() {
  static const Vectors vectors = read(WHIRLER_SOURCE_DIR "/tests/link/vectors.txt");
  return vectors;
}

} // namespace whirler::vectors
