# Warnings of our own code; private to each target, so that no user of the library inherits them.
function(evenstroke_warnings target)
  target_compile_options(${target} PRIVATE -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wno-missing-field-initializers
                                           $<$<BOOL:${EVENSTROKE_WARNINGS_AS_ERRORS}>:-Werror>)
endfunction()
