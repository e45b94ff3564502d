# report(NAME): fails with the entries of the list called NAME, a line each, unless it is empty.
function(report name)
  if(${name})
    list(JOIN ${name} "\n" text)
    message(FATAL_ERROR "${text}")
  endif()
endfunction()
