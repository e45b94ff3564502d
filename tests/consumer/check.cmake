# Installs program and library into a folder of their own, takes the example out of docs/library_use.md, builds and runs it there.
# cmake -DROOT=... -DBUILD=... -DGENERATOR=... -DCOMPILER=... -P check.cmake
cmake_minimum_required(VERSION 3.25)
set(place ${BUILD}/consumer)
file(REMOVE_RECURSE ${place})
file(MAKE_DIRECTORY ${place})

function(run what)
  execute_process(COMMAND ${ARGN} WORKING_DIRECTORY ${place} RESULT_VARIABLE status OUTPUT_VARIABLE out ERROR_VARIABLE out)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "${what} failed (${status}):\n${out}")
  endif()
  message("${out}")
endfunction()

file(READ ${ROOT}/docs/library_use.md page)
if(NOT page MATCHES "```cpp\n(.*)\n```\n")
  message(FATAL_ERROR "docs/library_use.md holds no example")
endif()
string(REGEX REPLACE "\n```\n.*" "" example "${CMAKE_MATCH_1}")
file(WRITE ${place}/example.cpp "${example}\n")

# As the two packages do, each with its component.
foreach(component program development)
  run("install" ${CMAKE_COMMAND} --install ${BUILD} --prefix ${place}/prefix --component ${component})
endforeach()
foreach(file bin/lampload share/man/man1/lampload.1 share/bash-completion/completions/lampload share/zsh/site-functions/_lampload
             share/fish/vendor_completions.d/lampload.fish)
  if(NOT EXISTS ${place}/prefix/${file})
    message(FATAL_ERROR "the program's package lacks ${file}")
  endif()
endforeach()
run("configure" ${CMAKE_COMMAND} -S ${ROOT}/tests/consumer -B ${place}/build -G ${GENERATOR} -DCMAKE_CXX_COMPILER=${COMPILER}
    -DCMAKE_PREFIX_PATH=${place}/prefix -DEXAMPLE=${place}/example.cpp)
run("build" ${CMAKE_COMMAND} --build ${place}/build)
set(samples ${ROOT}/sample_captures)
run("run" ${place}/build/consumer ${samples}/boathouse_mosfet_neutral.json ${samples}/simulated_clubroom_pendant_60w/steady.csv
    ${samples}/simulated_clubroom_pendant_60w/turn_on.csv)
