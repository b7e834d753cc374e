# The rival: libmodbus as the master.
find_library(WHIRLER_LIBMODBUS modbus REQUIRED)
target_link_libraries(${bench} PRIVATE ${WHIRLER_LIBMODBUS})
