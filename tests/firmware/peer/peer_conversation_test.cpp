// A driver in Python, written from the protocol's page alone, holds the same conversation.
#include "catch.hpp"
#include "peer_wire.hpp"

TEST_CASE("a driver written from the protocol alone holds the conversation", "[peer]") {
  PeerWire wire;
  conversation::hold(wire);
}
