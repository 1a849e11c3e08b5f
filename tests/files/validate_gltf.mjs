// Prints the report of the glTF validator on each file that is named on a line of standard input,
// as one line of JSON.
// Usage: node validate_gltf.mjs FOLDER_WITH_NODE_MODULES
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { createInterface } from "node:readline";

const [folder] = process.argv.slice(2);
const validator = createRequire(join(folder, "package.json"))("gltf-validator");
for await (const file of createInterface({ input: process.stdin })) {
    const bytes = new Uint8Array(readFileSync(file));
    const report = await validator.validateBytes(bytes, { maxIssues: 100 });
    console.log(JSON.stringify({ ...report.issues, info: report.info }));
}
