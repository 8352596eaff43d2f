import js from "@eslint/js";
import globals from "globals";

export default [
  js.configs.recommended,
  {
    languageOptions: { globals: { ...globals.browser, finstockTyped: "readonly" } },
    rules: { eqeqeq: "error", "no-var": "error", "prefer-const": "error" },
  },
  {
    files: ["docs/assets/app/{worker,boot,files,image,archive,practise,sw}.js"],
    languageOptions: { globals: globals.worker },
  },
  { files: ["docs/assets/app/sw.js"], languageOptions: { sourceType: "script", globals: globals.serviceworker } },
  { files: ["docs/assets/app/{early,theme,storage}.js"], languageOptions: { sourceType: "script" } },
  { files: ["scripts/*.mjs"], languageOptions: { globals: globals.node } },
];
