# cmake -D NPM_PROGRAM=... -D FROM=... -D INTO=... -P packages.cmake: installs what package-lock.json names into INTO.
# Writes INTO/done where that worked and INTO/log with npm's words in any case; never ends with an error.
file(REMOVE ${INTO}/done)
file(COPY ${FROM}/package.json ${FROM}/package-lock.json DESTINATION ${INTO})
execute_process(
  COMMAND ${NPM_PROGRAM} ci --ignore-scripts --no-audit --no-fund --no-update-notifier --fetch-retries=1
          --fetch-timeout=20000
  WORKING_DIRECTORY ${INTO}
  RESULT_VARIABLE result
  OUTPUT_VARIABLE said
  ERROR_VARIABLE said
  TIMEOUT 180)
file(WRITE ${INTO}/log "npm ci: ${result}\n${said}")
if(result EQUAL 0)
  file(TOUCH ${INTO}/done)
else()
  message(WARNING "the Node packages of the contract tests could not be had; their tests will fail. npm: ${said}")
endif()
