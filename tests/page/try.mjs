import { chromium } from "playwright-core";
const b=await chromium.launch({executablePath:"/usr/bin/chromium",args:["--no-sandbox","--disable-gpu"]});
const c=await b.newContext({offline:true, viewport:{width:1280,height:900}}); const p=await c.newPage();
p.on("console",m=>console.log("console",m.text())); p.on("pageerror",e=>console.log("error",e));
await p.goto("file:///tmp/h-web/tool.html"); await p.locator("html[data-ready]").waitFor({state:"attached"});
const t=Date.now();
await p.getByRole("button",{name:"Try the samples"}).click();
await p.locator("#starts > li").first().waitFor(); await p.locator("main:not([aria-busy=true])").waitFor();
console.log("samples", Date.now()-t, await p.locator("#errors").textContent(), await p.locator("#status").textContent());
await p.screenshot({path:"/tmp/h-web/a.png"});
for (let k=0;k<200;k++){ await p.keyboard.press("Tab"); const w=await p.evaluate(()=>document.activeElement.textContent||document.activeElement.getAttribute("aria-label")); if (w==="Why start 1 is set aside") {console.log("reached",k);break;} }
await p.keyboard.type("fumbled"); console.log(await p.evaluate(()=>document.activeElement.value));
await p.keyboard.press("Enter"); await p.waitForTimeout(300); await p.locator("main:not([aria-busy=true])").waitFor();
console.log(await p.locator("#errors").textContent(), await p.locator("#status").textContent(), await p.locator("#starts .aside").count());
await p.locator("#page").screenshot({path:"/tmp/h-web/b.png"});
await b.close();
