// Replaces node:child_process in a joined library that rarely starts a program: loading it takes as long as a small command.
const { createRequire } = require('node:module');

exports.spawn = (...args) => createRequire(process.execPath)('node:child_process').spawn(...args);
