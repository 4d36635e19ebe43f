// Walks through the board in Chromium, as `main.rs` says. Ends with 1 and what was wrong.
//
// Never here: what must stand in the record (`main.rs` reads it).
import { createRequire } from "node:module";
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";

const on = JSON.parse(process.argv[2]);
const require = createRequire(join(on.modules, "x.js"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const wrong = [];
const scripts = on.walk !== "without-scripts";

const browser = await chromium.launch({
  executablePath: on.chromium,
  args: process.getuid() === 0 ? ["--no-sandbox"] : [],
});

/** A window in which nobody is signed in; what the browser complains of is wrong. */
async function open(more = {}) {
  const context = await browser.newContext({
    viewport: { width: on.width, height: on.width < 600 ? 740 : 900 },
    javaScriptEnabled: scripts,
    deviceScaleFactor: 1,
    ...more,
  });
  context.setDefaultTimeout(30_000);
  const page = await context.newPage();
  page.on("console", message => {
    // A refusal has a status of its own, which the browser notes.
    const isStatus = /the server responded with a status of 4\d\d/.test(message.text());
    if (["error", "warning"].includes(message.type()) && !isStatus) {
      wrong.push(`${page.url()}: the browser says: ${message.text()}`);
    }
  });
  page.on("pageerror", error => wrong.push(`${page.url()}: ${error}`));
  return page;
}

/** Looks at a page: by axe, for a sideways scroll, for one heading; leaves a picture of it. */
async function look(page, name) {
  await page.locator("h1").waitFor();
  await page.screenshot({ path: join(on.pictures, `${on.walk}-${on.width}-${name}.png`), fullPage: true });
  if (!scripts) return;
  const found = await page.evaluate(`${axe}; axe.run(document, { resultTypes: ["violations"] })`);
  for (const violation of found.violations) {
    const nodes = violation.nodes.map(node => `${node.target.join(" ")}: ${node.failureSummary}`);
    wrong.push(`${name}: ${violation.id} (${violation.impact}): ${violation.help}\n  ${nodes.join("\n  ")}`);
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  if (wide > 0) wrong.push(`${name}: ${wide} px wider than the window`);
  const small = await page.evaluate(() =>
    [...document.querySelectorAll("button, a.act, nav a, select, input:not([type=hidden])")]
      .map(element => [element, (element.closest("label") ?? element).getBoundingClientRect()])
      .filter(([, box]) => box.height > 0 && box.height < 24)
      .map(([element, box]) => `${element.outerHTML.slice(0, 80)} is ${box.height} px high`));
  wrong.push(...small.map(what => `${name}: ${what}`));
  const headings = await page.locator("h1").count();
  if (headings !== 1) wrong.push(`${name}: ${headings} headings of the first rank`);
}

function expect(holds, what) {
  if (!holds) throw new Error(what);
}

async function expectText(page, text) {
  await page.getByText(text).first().waitFor();
}

/** The links that have come to a person, the newest first. */
function links(who) {
  const folder = join(on.mails, `${who}@clinic.example`, "new");
  let names = [];
  try { names = readdirSync(folder); } catch { /* Nothing has come yet. */ }
  const paths = names.map(name => join(folder, name));
  paths.sort((a, b) => statSync(b).mtimeMs - statSync(a).mtimeMs);
  return paths.flatMap(path => {
    const mail = readFileSync(path, "utf8").replace(/=\r?\n/g, "").replace(/=3D/g, "=");
    return mail.match(/http:\/\/\S+\/enter\/[\w-]+/) ?? [];
  });
}

/** A link to a person that had not come before. */
async function newLink(who, before) {
  for (let tries = 0; tries < 600; tries += 1) {
    const found = links(who).find(address => !before.includes(address));
    if (found) return found;
    await new Promise(done => setTimeout(done, 100));
  }
  throw new Error(`no link came to ${who}`);
}

async function signIn(page, who, see = async () => {}) {
  const before = links(who);
  await page.goto(`${on.board}/sign-in`);
  await see("sign-in");
  await page.getByLabel("Your mail address").fill(`${who}@clinic.example`);
  await page.getByRole("button").click();
  await expectText(page, "a link is on its way");
  await see("link-sent");
  const address = await newLink(who, before);
  await page.goto(address);
  await see("enter");
  await page.getByRole("button", { name: "Sign in here" }).click();
  await page.waitForURL(`${on.board}/`);
  return address;
}

const go = (page, path) => page.goto(`${on.board}${path}`);
const press = (page, name) => page.locator("main").getByRole("button", { name }).first().click();
const follow = (page, name) => page.locator("main").getByRole("link", { name }).first().click();

/** Every page and every act, as a clinician; then what others see. */
async function everything() {
  const page = await open();
  const see = name => look(page, name);
  await go(page, "/");
  expect(page.url().endsWith("/sign-in"), "a stranger is sent to the door");
  const address = await signIn(page, "seating", see);
  await see("today");
  expect((await page.locator(".row .name").first().innerText()).startsWith("A7"), "who is stopped comes first");
  await page.locator("main").getByRole("link", { name: /^A7/ }).click();
  await see("client-stopped");
  const source = await page.locator("figure img").first().getAttribute("src");
  expect(source.startsWith("data:") || (await page.request.get(new URL(source, on.board).href)).ok(), "the pictures are there");
  await press(page, "Take the alert up");
  await expectText(page, "seating takes alert");
  await see("alert-taken-up");

  await follow(page, "Decide");
  await see("decide");
  await press(page, /./);
  await expectText(page, "Nothing was changed");
  await see("decide-nothing-chosen");
  await page.getByRole("radio", { name: /begin again|resume/i }).check();
  await page.getByLabel("Begin again at").selectOption("1");
  await press(page, /./);
  await expectText(page, "This would follow");
  await see("decide-confirm");
  await follow(page, "No, leave it");
  await go(page, "/client/A7/decide");
  await page.getByRole("radio", { name: /begin again|resume/i }).check();
  await page.getByLabel("Begin again at").selectOption("1");
  await press(page, /./);
  await press(page, "Yes, do it");
  await expectText(page, "lets sitting begin again, at step 1");
  await see("client-resumed");

  await go(page, "/client/B2");
  await see("client-asked");
  await follow(page, "Report a finding by phone");
  await see("report");
  await press(page, /./);
  await expectText(page, "Nothing was changed");
  await see("report-nothing-chosen");
  await page.getByRole("radio").first().check();
  await page.locator('input[name=reading][value=clear]').check();
  await page.getByLabel("In their own words").fill("All clear, she says.");
  await press(page, /./);
  await expectText(page, "taken by seating");
  await see("client-reported");

  await go(page, "/client/C3");
  await see("client");
  await follow(page, "Pause");
  await see("pause");
  await page.locator('input[name=why][value=holiday]').check();
  await press(page, /./);
  await expectText(page, "End the pause");
  await see("client-paused");
  await follow(page, "End the pause");
  await see("unpause");
  await page.getByLabel("Go on at").selectOption("1");
  await press(page, /./);
  await see("unpause-confirm");
  await press(page, "Yes, do it");
  await expectText(page, "seating ends the pause, at step 1");

  await follow(page, "Put another fitting on file");
  await see("refit");
  await page.getByLabel("The fitting").fill('[fitting]\ndate = "soon"\n');
  await press(page, /./);
  await expectText(page, "line 2:");
  await see("refit-refused");
  await page.getByLabel("The fitting").fill(on.fitting);
  await press(page, /./);
  await page.waitForURL(/client\/C3$/);
  await see("client-refitted");

  await go(page, "/client/C3/contact");
  await see("contact-new");
  await page.getByLabel("Reference").fill("third");
  await page.getByLabel("Mail address").fill("not an address");
  await press(page, "Save");
  await expectText(page, "Nothing was changed");
  await see("contact-refused");
  await page.getByLabel("Name they are greeted by").fill("Ines");
  await page.getByLabel("Mail address").fill("ines@home.example");
  await press(page, "Save");
  await page.waitForURL(/client\/C3$/);
  await expectText(page, "ines@home.example");
  await go(page, "/client/C3/contact/third");
  await see("contact");
  await go(page, "/client/C3/contacts");
  await see("contacts-order");

  await page.getByRole("link", { name: "Enrol" }).click();
  await see("enrol");
  await page.getByLabel("Reference").fill("E5");
  await page.getByLabel("First name or nickname").fill("Lee");
  await page.getByLabel("Risk level").fill("high");
  await page.getByLabel("First day").fill(on.begins);
  await page.getByLabel("Sittings at").fill("09:00, 11:00");
  await page.getByLabel("Quiet hours").fill("21:00, 07:00");
  await page.getByLabel("Time zone of the client").fill(on.zone);
  await page.locator("#name_1").fill("Robin");
  await page.locator("#mail_1").fill("robin at home");
  await press(page, "Enrol");
  await expectText(page, "Nothing was changed");
  await see("enrol-refused");
  await page.locator("#mail_1").fill("robin@home.example");
  await press(page, "Enrol");
  await page.waitForURL(/client\/E5$/);
  await see("client-enrolled");

  await page.getByRole("link", { name: "Cover" }).click();
  await see("cover");
  await follow(page, "Set the cover");
  await see("cover-set");
  await page.locator("[name=from]").fill(on.today);
  await page.locator("[name=first]").selectOption("duty");
  await press(page, /./);
  await page.waitForURL(/cover$/);
  await see("cover-of-today");

  await page.getByRole("link", { name: "Set aside" }).click();
  await see("aside");
  const letter = page.locator("section.letter", { hasText: "neighbour@" });
  await letter.getByLabel("What it says").selectOption("marked");
  await letter.getByRole("button", { name: "File it" }).click();
  await expectText(page, "choose who wrote it");
  await see("aside-refused");
  await letter.getByLabel("Who wrote it").selectOption("C3/second");
  await letter.getByRole("button", { name: "File it" }).click();
  await page.locator("section.letter", { hasText: "neighbour@" }).waitFor({ state: "detached" });
  await page.locator("section.letter", { hasText: "shop@" }).getByRole("button", { name: "Nothing to record" }).click();
  await page.locator("section.letter").first().waitFor({ state: "detached" });
  await see("aside-empty");

  await go(page, "/");
  await see("today-afterwards");
  await go(page, "/ended");
  await see("ended");
  await go(page, "/client/D4");
  await see("client-ended");
  await go(page, "/client/A7?journal=all");
  await see("client-whole-journal");
  await go(page, "/client/Z9");
  await see("not-there");
  await go(page, "/");
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.waitForURL(/sign-in/);
  await go(page, "/client/A7");
  expect(page.url().endsWith("/sign-in"), "who has signed out is outside");
  await page.goto(address);
  await expectText(page, "It was used, or it is too old");
  await see("link-used");

  const other = await open();
  await signIn(other, "guest");
  await look(other, "today-of-an-observer");
  await go(other, "/client/A7");
  expect(await other.getByText("What you can do").count() === 0, "an observer acts on nothing");
  await look(other, "client-of-an-observer");
  await go(other, "/enrol");
  expect(await other.locator("main form").count() === 0, "an observer enrols nobody");
  await look(other, "refused-to-an-observer");

  const duty = await open();
  await signIn(duty, "duty");
  await go(duty, "/client/B2/decide");
  await duty.getByRole("radio", { name: /Keep off the seat/ }).check();
  await press(duty, /./);
  await duty.locator(".stand.stopped").waitFor();
  await look(duty, "client-stopped-by-hand");
  await go(duty, "/client/E5/decide");
  await duty.getByRole("radio", { name: /End the follow-up/ }).check();
  await press(duty, /./);
  await expectText(duty, "This would follow");
  await look(duty, "close-confirm");
  await press(duty, "Yes, do it");
  await duty.waitForURL(/client\/E5$/);
  await look(duty, "client-closed");
}

/** From the first page to an alert that is taken up, with Tab and Enter. */
async function keyboard() {
  const page = await open();
  await signIn(page, "seating");
  await reach(page, "skip");
  await page.keyboard.press("Enter");
  expect(await page.evaluate(() => document.activeElement.id) === "content", "the skip link leads to the content");
  await reach(page, "a client's name", held => held.startsWith("A7"));
  await page.keyboard.press("Enter");
  await page.waitForURL(/client\/A7$/);
  await reach(page, "the act", held => held.startsWith("Take the alert up"));
  await page.keyboard.press("Enter");
  await expectText(page, "seating takes alert");
}

/** Tabs until something holds the focus, which must show. */
async function reach(page, what, is = held => held.startsWith("Skip")) {
  for (let tabs = 0; tabs < 80; tabs += 1) {
    await page.keyboard.press("Tab");
    const [held, shows] = await page.evaluate(() => {
      const element = document.activeElement, style = getComputedStyle(element);
      const box = element.getBoundingClientRect();
      return [element.innerText ?? "", style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 && box.top >= 0 && box.left >= 0];
    });
    if (!shows) wrong.push(`the focus on "${held}" cannot be seen`);
    if (is(held)) return;
  }
  throw new Error(`the keyboard does not reach ${what}`);
}

/** What a command commits appears on an open page, which is not read anew. */
async function news() {
  const page = await open();
  await signIn(page, "guest");
  const opened = page.waitForResponse(answer => answer.url().endsWith("/live") && answer.ok());
  await go(page, "/client/A7");
  await opened;
  await page.evaluate(() => { window.isTheSame = true; });
  expect(await page.getByText("Taken up by duty").count() === 0, "nobody has taken the alert up yet");
  execFileSync(on.fadewatch, ["decide", "A7", "seen", "--by", "duty", "--config", on.config]);
  await expectText(page, "Taken up by duty");
  expect(await page.evaluate(() => window.isTheSame === true), "the page was read anew");
}

/** The colours of the dark scheme, and letters of twice the size. */
async function dark() {
  const page = await open({ colorScheme: "dark" });
  await signIn(page, "seating", name => look(page, name));
  await look(page, "today");
  for (const path of ["/client/A7", "/client/C3", "/client/A7/decide", "/client/B2/report", "/cover", "/aside", "/enrol"]) {
    await go(page, path);
    await look(page, path.slice(1).replaceAll("/", "-"));
  }
  await page.setViewportSize({ width: 640, height: 900 });
  await go(page, "/client/A7");
  await page.evaluate(() => { document.documentElement.style.fontSize = "200%"; });
  await look(page, "client-A7-enlarged");
}

const walks = { everything, "without-scripts": everything, keyboard, news, dark };
try {
  await walks[on.walk]();
} catch (error) {
  wrong.push(error.stack);
  for (const page of browser.contexts().flatMap(context => context.pages())) {
    wrong.push(`at ${page.url()}: ${(await page.locator("body").innerText()).slice(0, 4000)}`);
  }
} finally {
  await browser.close();
}
if (wrong.length > 0) {
  console.log(wrong.join("\n"));
  process.exit(1);
}
