"""One module a command, each with a `command` that `oilpath.cli` registers; `options` and `console` are shared."""
