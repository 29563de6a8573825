# Checks of the source tree, the installation and the documents, rather than of one build's code.
find_program(EVENSTROKE_BASH bash REQUIRED)
cmake_host_system_information(RESULT processors QUERY NUMBER_OF_LOGICAL_CORES)
set(gates ${PROJECT_SOURCE_DIR}/tools/gates)

foreach(gate format stage_order top_level packages notices)
  add_test(NAME gate_${gate} COMMAND ${EVENSTROKE_PYTHON} -B ${gates}/${gate} --root ${PROJECT_SOURCE_DIR})
endforeach()
add_test(NAME gates_fail_when_they_should COMMAND ${EVENSTROKE_PYTHON} -B ${CMAKE_CURRENT_SOURCE_DIR}/gates_test.py)

if(EVENSTROKE_BUILD_CLI)
  add_test(NAME gate_readme COMMAND ${EVENSTROKE_PYTHON} -B ${gates}/readme --root ${PROJECT_SOURCE_DIR}
                                    --program $<TARGET_FILE:evenstroke_cli>)
  foreach(kind static shared)
    if(kind STREQUAL static AND BUILD_SHARED_LIBS)
      continue()
    endif()
    add_test(NAME consumer_${kind} COMMAND ${EVENSTROKE_BASH} ${CMAKE_CURRENT_SOURCE_DIR}/consumer/run
             ${PROJECT_SOURCE_DIR} ${PROJECT_BINARY_DIR} ${PROJECT_BINARY_DIR}/consumer-${kind} ${PROJECT_VERSION} ${kind})
    set_tests_properties(consumer_${kind} PROPERTIES COST 500 TIMEOUT 1200)
  endforeach()
  set_tests_properties(consumer_shared PROPERTIES PROCESSORS ${processors})
endif()

add_test(NAME sanitizers COMMAND ${EVENSTROKE_BASH} ${CMAKE_CURRENT_SOURCE_DIR}/sanitizers ${PROJECT_SOURCE_DIR}
         ${PROJECT_BINARY_DIR}/sanitize ${processors} -DEVENSTROKE_REQUIRE_REFERENCES=${EVENSTROKE_REQUIRE_REFERENCES})
set_tests_properties(sanitizers PROPERTIES COST 1000 TIMEOUT 1800 PROCESSORS ${processors})
