// Moved; for sources of this folder.
#pragma once

#include "whirler/files/schema.hpp"
