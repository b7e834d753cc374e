// Checksums of an exported coat: a careful reader can see with `sha256sum` that a table is as it
// was written, and `import` sees it by itself. Against slips and damage; whoever alters a figure on
// purpose can make a checksum too.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace whirler::notebook {

/// SHA-256 (FIPS 180-4) in 64 hexadecimal digits.
[[nodiscard]] std::string sha256_hex(std::string_view bytes);

/// A document that ends in `"sha256": ""` and its closing brace, with its checksum filled in.
[[nodiscard]] std::string sealed(std::string document);
/// Whether the checksum at its end fits; none where there is no checksum at its end.
[[nodiscard]] std::optional<bool> seal_fits(std::string_view document);

} // namespace whirler::notebook
