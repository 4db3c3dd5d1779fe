// Looks at a report in a browser and on paper; see `page`. Ends with 1 where anything is wrong.
const fs = require("fs");
const puppeteer = require("puppeteer-core");
const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const [browserPath, page, paper] = process.argv.slice(2);
const WIDTHS = [360, 768, 1440]; // px
const MOST_SUMMARY_PAGES = 6;
const wrong = [];

function onPaper() {
  const sheets = fs.readFileSync(paper, "utf8").split("\f").slice(0, -1);
  const summary = sheets.findIndex((s) => /^ *Appendices$/m.test(s));
  if (summary < 1 || summary > MOST_SUMMARY_PAGES) wrong.push(`summary of ${summary} pages`);
  sheets.forEach((sheet, i) => {
    if (!sheet.includes(`Page ${i + 1} of ${sheets.length}`)) wrong.push(`page ${i + 1} unnumbered`);
  });
  const quantities = [...new Set(JSON.parse(process.env.NAMES).map((r) => r.quantity))];
  const text = sheets.join("\n");
  for (const name of quantities) {
    if (!text.includes(`${name}: map and sections`)) wrong.push(`${name} is not on paper`);
  }
  console.log(`paper: summary ${summary} pages, ${sheets.length} in all, ${quantities.join(", ")}`);
}

async function onScreen(browser, width) {
  const tab = await browser.newPage();
  const errors = [];
  const requests = [];
  tab.on("console", (m) => m.type() === "error" && errors.push(m.text()));
  tab.on("pageerror", (e) => errors.push(String(e)));
  tab.on("request", (r) => /^(file|data):/.test(r.url()) || requests.push(r.url()));
  await tab.setViewport({ width, height: 900 });
  await tab.goto(`file://${page}`, { waitUntil: "load" });
  const wide = await tab.evaluate(() => document.documentElement.scrollWidth);
  if (wide > width) wrong.push(`${width} px: the page is ${wide} px wide`);
  for (const e of errors) wrong.push(`${width} px: error ${e}`);
  for (const r of requests) wrong.push(`${width} px: request ${r}`);
  await tab.setBypassCSP(true); // the page lets no foreign script in
  await tab.goto(`file://${page}`, { waitUntil: "load" });
  await tab.evaluate(axe);
  const found = await tab.evaluate(async () => {
    const { violations } = await window.axe.run(document, { resultTypes: ["violations"] });
    return violations.map((v) => `${v.id} (${v.impact}) at ${v.nodes.length}: ${v.nodes[0].html}`);
  });
  for (const f of found) wrong.push(`${width} px: axe ${f.slice(0, 300)}`);
  console.log(`${width} px: ${wide} px wide, ${errors.length} errors, ${requests.length} requests, ` +
    `${found.length} findings of axe`);
  await tab.close();
}

(async () => {
  onPaper();
  const browser = await puppeteer.launch({
    executablePath: browserPath, args: ["--no-sandbox", "--headless=new"], protocolTimeout: 400000,
  });
  for (const width of WIDTHS) await onScreen(browser, width);
  await browser.close();
  for (const line of wrong) console.error(`wrong: ${line}`);
  process.exit(wrong.length ? 1 : 0);
})();
