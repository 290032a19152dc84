// Mails as they arrived: [raw, base64] in; headers and bodies as mailparser
// reads them, and what html-validate says of the HTML, out. In mail only styles
// in the elements themselves are sure to be kept, so these are allowed.
import { HtmlValidate, StaticConfigLoader } from 'html-validate';
import { simpleParser } from 'mailparser';
import { answer } from './read.mjs';

const checker = new HtmlValidate(new StaticConfigLoader({
  extends: ['html-validate:standard', 'html-validate:a11y'],
  rules: { 'no-inline-style': 'off' },
}));

async function complaints(html) {
  const report = await checker.validateString(html);
  return report.results.flatMap((r) => r.messages.map((m) => `${m.line}: ${m.ruleId}: ${m.message}`));
}

await answer((mails) => Promise.all(mails.map(async (raw) => {
  const mail = await simpleParser(Buffer.from(raw, 'base64'), { keepCidLinks: true });
  const list = mail.headers.get('list') ?? {};
  return {
    subject: mail.subject, messageId: mail.messageId, inReplyTo: mail.inReplyTo ?? '',
    references: [mail.references ?? []].flat(), date: mail.date, from: mail.from.value[0], to: mail.to.value[0],
    autoSubmitted: mail.headers.get('auto-submitted') ?? '',
    unsubscribe: list.unsubscribe?.url ?? '', unsubscribePost: list['unsubscribe-post']?.name ?? '',
    text: mail.text, html: mail.html || '',
    parts: mail.attachments.map((a) => ({ cid: a.cid ?? '', type: a.contentType, disposition: a.contentDisposition, related: a.related === true, bytes: a.size,
      png: a.content.subarray(0, 8).toString('hex') === '89504e470d0a1a0a' })),
    complaints: mail.html ? await complaints(mail.html) : [],
  };
})));
