process.env.LAMPWRIGHT='/bin/true';
const { browser, open, exact, drag, axe } = await import('./bench.mjs');
const chrome = await browser();
const { page, wrong, context } = await open(chrome, 'file:///tmp/page/fake/fake.html', {viewport:{width:1600,height:1000}});
page.on('console', m=>console.log('C', m.text()));
try { await exact(page); } catch(e) { console.log(String(e).slice(0,200)); }
console.log(wrong, await page.locator('#try-note').innerText());
await page.screenshot({path:'/tmp/page/fake/a.png', fullPage:true});
console.log(await page.locator('#safe').innerText());
await drag(page,'#cap',100); await exact(page);
console.log(await page.locator('#verdict').innerText(), page.url().slice(-100));
console.log((await page.evaluate(()=>performance.getEntriesByName('repaint').map(e=>Math.round(e.duration)))).join(' '));
console.log(await axe(page));
await page.screenshot({path:'/tmp/page/fake/b.png', fullPage:true});
console.log(wrong);
for (const w of [390,1024]) { await page.setViewportSize({width:w,height:900}); await page.waitForTimeout(500); await page.screenshot({path:`/tmp/page/fake/w${w}.png`, fullPage:true}); }
await chrome.close();
