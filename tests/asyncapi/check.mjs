// Complains about everything the parser finds in an AsyncAPI document, and about examples that the
// document's own schemas do not allow.
import { readFileSync } from "node:fs";
import { Parser } from "@asyncapi/parser";
import Ajv from "ajv";

const path = process.argv[2];
const { document, diagnostics } = await new Parser().parse(readFileSync(path, "utf8"), { source: path });
// Severity 0 is an error, 1 a warning; 2 and 3 are advice, such as "there is a newer version".
const complaints = diagnostics
  .filter(({ severity }) => severity <= 1)
  .map(({ code, message, path: at }) => `${code}: ${message} at ${at.join(".")}`);

const ajv = new Ajv({ strict: false });
const channels = document?.channels().all() ?? [];
let examples = 0;
for (const channel of channels) {
  for (const message of channel.messages().all()) {
    const allows = ajv.compile(message.payload().json());
    if (message.examples().all().length === 0) complaints.push(`${message.name()}: no example`);
    for (const example of message.examples().all()) {
      examples += 1;
      if (!allows(example.payload())) complaints.push(`${message.name()}: example: ${ajv.errorsText(allows.errors)}`);
    }
  }
}
if (channels.length === 0) complaints.push("no channels");
for (const complaint of complaints) console.error(`${path}: ${complaint}`);
if (complaints.length > 0) process.exit(1);
console.log(`${path}: AsyncAPI ${document.version()}, ${channels.length} channels, ${examples} examples`);
