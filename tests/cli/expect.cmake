# Runs the program as a user would and checks its exit status and what it said.
#   cmake -DPROGRAM=… -DARGS=a;b -DSTATUS=2 [-DOUT=regex] [-DERR=regex] [-DNO_OUT=ON] -P expect.cmake
# OUT and ERR must match standard output and error; NO_OUT: standard output stays empty.
execute_process(COMMAND ${PROGRAM} ${ARGS} RESULT_VARIABLE status OUTPUT_VARIABLE out ERROR_VARIABLE err TIMEOUT 60)
set(said "status: ${status}\n--- output:\n${out}\n--- errors:\n${err}")
if(NOT status STREQUAL STATUS)
  message(FATAL_ERROR "expected status ${STATUS}\n${said}")
endif()
if(DEFINED OUT AND NOT out MATCHES "${OUT}")
  message(FATAL_ERROR "the output does not match '${OUT}'\n${said}")
endif()
if(DEFINED ERR AND NOT err MATCHES "${ERR}")
  message(FATAL_ERROR "the error text does not match '${ERR}'\n${said}")
endif()
if(NO_OUT AND NOT out STREQUAL "")
  message(FATAL_ERROR "nothing was expected on the output\n${said}")
endif()
