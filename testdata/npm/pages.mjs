// Pages read by html-validate with its standard and accessibility rules:
// {name: html} in, [{page, line, rule, message}] out; nothing wrong: [].
import { HtmlValidate, StaticConfigLoader } from 'html-validate';
import { answer } from './read.mjs';

await answer(async (pages) => {
  const checker = new HtmlValidate(new StaticConfigLoader({ extends: ['html-validate:standard', 'html-validate:a11y'] }));
  const out = [];
  for (const [page, html] of Object.entries(pages)) {
    const report = await checker.validateString(html);
    for (const result of report.results) {
      for (const m of result.messages) out.push({ page, line: m.line, rule: m.ruleId, message: m.message });
    }
  }
  return out;
});
