#include "bottle.hpp"

#include "whirler/film/prediction.hpp"

#include <cmath>
#include <filesystem>

namespace whirler::cli {

std::string calibration_path(const std::string& resist_path) {
  std::filesystem::path path(resist_path);
  const std::string name =
      path.extension() == ".json" ? path.stem().string() : path.filename().string();
  return path.replace_filename(name + ".calibration.json").string();
}

std::string stored_boards(const std::string& resist_path) {
  const std::string path = resist_path.empty() ? "" : calibration_path(resist_path);
  std::error_code error;
  return !path.empty() && std::filesystem::exists(path, error) ? path : "";
}

std::vector<film::Board> load_boards(FileLoader& files, const std::string& resist_path) {
  const std::string path = stored_boards(resist_path);
  if (path.empty())
    return {};
  const auto loaded = files.load<files::CalibrationFile>(path);
  return loaded ? loaded->value.boards : std::vector<film::Board>{};
}

std::optional<Bottle> load_bottle(FileLoader& files, const std::string& path) {
  const auto loaded = files.load<files::ResistFile>(path);
  std::vector<film::Board> stored = load_boards(files, path);
  if (!loaded)
    return std::nullopt;
  Bottle bottle{loaded->value.resist, loaded->value.wedges,
                film::witness_boards(loaded->value.resist), path};
  bottle.boards.insert(bottle.boards.end(), stored.begin(), stored.end());
  return bottle;
}

std::vector<std::string> suspect_texts(const film::Calibration& calibration,
                                       std::span<const film::Board> boards) {
  std::vector<std::string> texts;
  for (const film::Suspect& suspect : calibration.suspects) {
    const film::Board& board = boards[suspect.board];
    texts.push_back("board " + std::to_string(suspect.board + 1) + " (" +
                    number_text(board.thickness.um()) + " um at " +
                    number_text(board.spin.speed.rpm(), 4) + " rpm) is " +
                    number_text(std::abs(suspect.deviations), 2) + " standard deviations too " +
                    (suspect.deviations > 0.0 ? "thick" : "thin") +
                    (suspect.left_out ? "; left out" : "; kept: check the reading and its unit"));
  }
  return texts;
}

} // namespace whirler::cli
