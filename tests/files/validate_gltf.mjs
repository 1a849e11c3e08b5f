// Prints the report of the glTF validator on one file as JSON.
// Usage: node validate_gltf.mjs FOLDER_WITH_NODE_MODULES FILE.glb
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const [folder, file] = process.argv.slice(2);
const validator = createRequire(join(folder, "package.json"))("gltf-validator");
const report = await validator.validateBytes(new Uint8Array(readFileSync(file)), { maxIssues: 100 });
console.log(JSON.stringify({ ...report.issues, info: report.info }));
