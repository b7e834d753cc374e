// Catch2 v2 wants its main() compiled once; v3 brings a library for it.
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
