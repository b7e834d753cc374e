# Its pulses are those of the tests.
target_include_directories(${bench} PRIVATE ${PROJECT_SOURCE_DIR}/tests/tach)
