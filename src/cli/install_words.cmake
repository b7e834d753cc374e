# Run while installing: asks the built program for its completions and manual pages.
foreach(place bash-completion/completions/whirler zsh/site-functions/_whirler
              fish/vendor_completions.d/whirler.fish)
  string(REGEX MATCH "^[a-z]+" shell ${place})
  set(file "${WHIRLER_DATA}/${place}")
  message(STATUS "Installing: ${file}")
  get_filename_component(folder "${file}" DIRECTORY)
  file(MAKE_DIRECTORY "${folder}")
  execute_process(COMMAND "${WHIRLER_BUILT}" completion ${shell} OUTPUT_FILE "${file}"
                  COMMAND_ERROR_IS_FATAL ANY)
endforeach()
message(STATUS "Installing: ${WHIRLER_MAN}")
execute_process(COMMAND "${WHIRLER_BUILT}" manual --folder "${WHIRLER_MAN}" OUTPUT_QUIET
                COMMAND_ERROR_IS_FATAL ANY)
