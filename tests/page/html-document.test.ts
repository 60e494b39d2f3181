import { describe, expect, it } from 'vitest';
import { renderChecklist } from '../../src/report/checklist.js';
import { figuresOf } from '../../src/report/figures/figures.js';
import { htmlDocument, htmlText, jsonForHtml, markdownHtml } from '../../src/report/html-document.js';
import { renderPlan } from '../../src/report/plan.js';
import { twoFeeders, withStrings } from '../report/fixtures.js';

describe('the printable page', () => {
  it('contains plan and checklist, inline figures, and no scripts, links or style attributes', async () => {
    const result = twoFeeders();
    const figures = figuresOf(result);
    const input = {
      title: 'Plan',
      parts: [renderPlan(result, { figures }), renderChecklist(result)],
      figures,
    };
    const html = await htmlDocument(input);
    expect(html.match(/<svg/g)).toHaveLength(figures.length);
    expect(html).not.toMatch(/<script|<img|<a\s|\sstyle="|\son[a-z]+=/);
    expect(html).toContain("script-src 'none'");
    expect(html).toContain('<span class="box">☐</span>');
    expect(html).not.toContain('[ ]');
    expect(html.match(/<article>/g)).toHaveLength(2);
    const ids = [...html.matchAll(/\sid="([^"]+)"/g)].map((m) => m[1]);
    expect(new Set(ids).size).toBe(ids.length);
    expect(await htmlDocument(input)).toBe(html);
  });

  it('shows hostile text as text', async () => {
    const hostile = '<script>alert(1)</script><img src=x onerror=alert(2)>[a](javascript:alert(3))';
    const result = withStrings(twoFeeders(), (text) => `${hostile}${text}`);
    const html = await htmlDocument({
      title: hostile,
      parts: [renderPlan(result), renderChecklist(result)],
      figures: [],
    });
    expect(html).not.toMatch(/<script|<img|<a\s/);
    expect(html).toContain('&lt;script&gt;alert(1)');
  });

  it('uses the alternative text where a figure is missing', async () => {
    const { block } = await markdownHtml();
    expect(block('![calibre of <A1>](figures/none.svg)')).toContain('<em>calibre of &lt;A1&gt;</em>');
  });

  it('aligns numbers by class and lets hashes wrap', async () => {
    const { block } = await markdownHtml();
    const html = block(`| a | b |\n| --- | --: |\n| ${'0123456789abcdef'.repeat(4)} | 2 |\n`);
    expect(html).toContain('<td class="number">2</td>');
    expect(html).toContain('<wbr>');
    expect(html.replace(/<wbr>/g, '')).toContain('0123456789abcdef'.repeat(4));
  });
});

describe('text inside a page', () => {
  it('cannot leave an attribute or a script element', () => {
    expect(htmlText(`"'<>&\n\u202ex`)).toBe('&quot;&#39;&lt;&gt;&amp; x');
    const json = jsonForHtml({ a: '</script><!--&\u2028' });
    expect(json).not.toMatch(/[<>&\u2028]/);
    expect(JSON.parse(json)).toEqual({ a: '</script><!--&\u2028' });
  });
});
