# What the firmware and its bench need beyond the project itself. Sets FIRMWARE_BENCH to ON, or to OFF
# and FIRMWARE_BENCH_MISSING to what is not there.
find_program(AVR_GCC avr-gcc)
find_program(MAKE_PROGRAM_FOR_FIRMWARE make)
find_path(SIMAVR_INCLUDE sim_avr.h PATH_SUFFIXES simavr)
find_library(SIMAVR_LIBRARY simavr)
find_path(AVR_LIBC_INCLUDE avr/io.h PATHS /usr/lib/avr/include NO_CMAKE_FIND_ROOT_PATH)

set(FIRMWARE_BENCH_MISSING)
foreach(need IN ITEMS "AVR_GCC:gcc-avr" "MAKE_PROGRAM_FOR_FIRMWARE:make" "SIMAVR_INCLUDE:libsimavr-dev"
                      "SIMAVR_LIBRARY:libsimavr-dev" "AVR_LIBC_INCLUDE:avr-libc")
  string(REPLACE ":" ";" need ${need})
  list(GET need 0 variable)
  list(GET need 1 package)
  if(NOT ${variable})
    list(APPEND FIRMWARE_BENCH_MISSING ${package})
  endif()
endforeach()
list(REMOVE_DUPLICATES FIRMWARE_BENCH_MISSING)
if(FIRMWARE_BENCH_MISSING)
  set(FIRMWARE_BENCH OFF)
else()
  set(FIRMWARE_BENCH ON)
endif()
