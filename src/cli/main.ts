import { Command, CommanderError } from 'commander';
import { EXIT, ReportedFailure } from '../foundation/failure.js';
import { COMMANDS, type CommandSpec } from './commands.js';
import { asOutputFailure } from './output/write-problem.js';
import { processTerminal } from './terminal/process-terminal.js';
import { guarded } from './terminal/terminal-text.js';
import { packageVersion } from './version.js';

const EXIT_HELP = `
Exit codes:
  0  done
  1  done, but a stop-level finding, a failed grade or proof, or a changed plan stands, or there is no answer
  2  the command line or the case file is wrong
  3  an input file (mesh, image, shelf) cannot be used
  4  an internal error: a defect of ours, please report it
  5  an output cannot be written: a full disk, no permission, a folder that holds something else
  128 + signal  pavm batch was stopped (130 by Ctrl-C, 143 by SIGTERM); the same command goes on

Every document supports and never replaces the judgement of the licensed heart team.`;

/** Runs the command line. Sets the exit code; prints one line for each problem with the input. */
export async function main(argv: readonly string[]): Promise<void> {
  let code: number = EXIT.done;
  process.stdout.on('error', endOnLostOutput);
  // if messages cannot be written, the outputs and the exit code still count
  process.stderr.on('error', () => undefined);
  const program = new Command('pavm')
    .description(
      'Plans the closure (plan A) and the resection (plan B) of a pulmonary arteriovenous malformation from segmented surfaces or contrast CT, and blood gases.',
    )
    .version(packageVersion(), '-V, --version', 'print the version')
    .helpOption('-h, --help', 'print help')
    .option('-q, --quiet', 'no progress and no notes on stderr')
    .option('--no-color', 'no colour')
    .option('--debug', 'print the stack of an internal error')
    .addHelpText('before', 'Examples:\n  pavm plan cases/heron\n  pavm check cases/*\n')
    .addHelpText('after', EXIT_HELP)
    .showSuggestionAfterError()
    .configureOutput({ writeErr: say })
    .exitOverride();
  for (const spec of COMMANDS)
    register(program, spec, (result) => {
      code = result;
    });
  if (argv.length <= 2) {
    program.outputHelp();
    return;
  }
  try {
    await program.parseAsync(argv as string[]);
  } catch (error) {
    code = report(error, program.opts().debug === true || argv.includes('--debug'));
  }
  process.exitCode = code;
}

function register(program: Command, spec: CommandSpec, done: (code: number) => void): void {
  const command = program
    .command(`${spec.name} ${spec.args}`.trim())
    .summary(spec.summary)
    .description(`${spec.summary[0].toUpperCase()}${spec.summary.slice(1)}.\n\nExample: ${spec.example}`)
    .option('-q, --quiet', 'no progress and no notes on stderr')
    .helpOption('-h, --help', 'print help')
    .exitOverride();
  for (const { flag, text } of spec.options) command.option(flag, text);
  command.action(async (...parameters: unknown[]) => {
    const positional = parameters
      .slice(0, -2)
      .flat()
      .filter((p) => p !== undefined) as string[];
    const options = parameters.at(-2) as Record<string, unknown>;
    const quiet = options.quiet === true || program.opts().quiet === true;
    const terminal = processTerminal({ quiet, colour: program.opts().color !== false });
    const { run } = await spec.load();
    done(await run(positional, options as never, terminal));
  });
}

function report(thrown: unknown, debug: boolean): number {
  if (thrown instanceof CommanderError) return thrown.exitCode === 0 ? EXIT.done : EXIT.usage;
  const error = isDiskFull(thrown) ? asOutputFailure(thrown, thrown.path ?? 'an output') : thrown;
  if (error instanceof ReportedFailure) {
    for (const problem of error.problems) say(`${problem}\n`);
    return error.exitCode;
  }
  const text =
    error instanceof Error ? (debug ? error.stack : `${error.name}: ${error.message}`) : String(error);
  say(`pavm: internal error, a defect of ours: ${text}\nPlease report it with the command you ran.\n`);
  return EXIT.defect;
}

/** Writes to stderr with invisible characters made visible, since messages repeat what was typed. */
const say = (text: string): void => {
  process.stderr.write(guarded(text, false));
};

const isDiskFull = (error: unknown): error is NodeJS.ErrnoException =>
  ['ENOSPC', 'EDQUOT'].includes((error as NodeJS.ErrnoException | undefined)?.code ?? '');

/** Ends the program if stdout fails: silently if a reader such as `head` closed the pipe, else with one line. */
function endOnLostOutput(error: NodeJS.ErrnoException): void {
  if (error.code === 'EPIPE') process.exit(EXIT.done);
  const why = error.code === 'ENOSPC' ? 'the device is full' : 'the system refused';
  process.stderr.write(`stdout: the output cannot be written: ${why} (${error.code}). Send it elsewhere.\n`);
  process.exit(EXIT.output);
}
