// One door to Catch2, version 2 or 3, for every test of the suite.
#pragma once

#if __has_include(<catch2/catch_all.hpp>)
#include <catch2/catch_all.hpp>
using Catch::Approx;
#else
#include <catch2/catch.hpp>
namespace Catch::Matchers {
/// Version 3's name for version 2's Contains on strings.
inline auto ContainsSubstring(const std::string& part) { return Contains(part); }
} // namespace Catch::Matchers
#endif
