# Warnings of our own code; private to each target, so that no user of the library inherits them.
# -Wno-missing-field-initializers: designated initialisers leave the rest to the defaults on purpose.
# -Wno-maybe-uninitialized in batches: there g++ 12 inlines strings so far that it warns of them falsely; clang's reading
# of the same batches, and a build of each file alone, warn on.
# Where sources are read in batches a local may well have the name of another file's: -Wshadow=local minds only locals,
# and clang knows no such thing.
# -Wno-restrict: g++ 12 warns falsely where a string is assigned a literal (GCC bug 105329); clang knows no such name.
function(evenstroke_warnings target)
  target_compile_options(${target} PRIVATE -Wall -Wextra -Wpedantic -Wconversion -Wno-missing-field-initializers
                                           $<$<CXX_COMPILER_ID:GNU>:-Wno-restrict>
                                           $<$<NOT:$<BOOL:${CMAKE_UNITY_BUILD}>>:-Wshadow>
                                           $<$<AND:$<BOOL:${CMAKE_UNITY_BUILD}>,$<CXX_COMPILER_ID:GNU>>:-Wshadow=local>
                                           $<$<AND:$<BOOL:${CMAKE_UNITY_BUILD}>,$<CXX_COMPILER_ID:GNU>>:-Wno-maybe-uninitialized>
                                           $<$<BOOL:${EVENSTROKE_WARNINGS_AS_ERRORS}>:-Werror>)
endfunction()
