/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/settings.h"

/* The numbers are those of the lines. */
static const char *const SETTINGS[] = {
    /*  1 */ "clinic:",
    /*  2 */ "  name: Saltmarsh Lane Physiotherapy",
    /*  3 */ "  zone: Europe/London",
    /*  4 */ "  language: en",
    /*  5 */ "  phone: \"+442079460100\"",
    /*  6 */ "  after_hours_phone: \"+442079460199\"",
    /*  7 */ "  emergency: \"999\"",
    /*  8 */ "  crisis: \"+442079460116\"",
    /*  9 */ "  country_code: \"44\"",
    /* 10 */ "  hours: {mon-fri: \"08:30-17:30\"}",
    /* 11 */ "  closed: [2026-12-25]",
    /* 12 */ "  quiet: 21:00-08:00",
    /* 13 */ "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}",
    /* 14 */ "duty:",
    /* 15 */
    "  - {name: R. Okafor, sms: \"+442079460190\", email: rok@clinic.example, away: "
    "[2026-07-01/2026-07-14]}",
    /* 16 */ "  - {name: J. Lindqvist, sms: \"+442079460191\", after: 15min}",
    /* 17 */ "again: 30min",
    /* 18 */
    "limits: {pain_now: 7, pain_today: 4, missed_run: 3, intensity_high: 7, per_day_max: 4}",
    /* 19 */ "reminders: {ends: 3h, nudge_after: 4h, silent_after: 20h}",
    /* 20 */ "page: {listen: \"127.0.0.1:8750\"}",
    /* 21 */ "hooks: {listen: \"127.0.0.1:8751\"}",
    /* 22 */ "gateways:",
    /* 23 */ "  texts:",
    /* 24 */ "    kind: http-sms",
    /* 25 */ "    rate: 5/s",
    /* 26 */ "    price: 0.04",
    /* 27 */ "    takes_key: true",
    /* 28 */ "    send:",
    /* 29 */ "      url: https://gateway.example/v1/messages",
    /* 30 */ "      method: POST",
    /* 31 */
    "      headers: {Authorization: \"Bearer {secret:texts.key}\", Idempotency-Key: \"{id}\"}",
    /* 32 */ "      form: {to: \"{to}\", text: \"{text}\", ref: \"{id}\"}",
    /* 33 */ "      accepted: {status: [200, 201, 202], id: /message/id}",
    /* 34 */ "      refused: {status: [400, 404, 422], reason: /error}",
    /* 35 */
    "    poll: {url: \"https://gateway.example/v1/inbox?after={cursor}\", every: 30s, items: "
    "/messages, id: /id,",
    /* 36 */ "           from: /from, text: /text, at: /at, cursor: /next}",
    /* 37 */ "    webhook: {path: /in/texts, id: /id, from: /from, text: /text,",
    /* 38 */
    "              signature: {scheme: standard-webhooks, secret: \"{secret:texts.hook}\"}}",
    /* 39 */
    "    receipts: {webhook: {path: /receipts/texts, id: /id, status: /status, delivered: "
    "[delivered],",
    /* 40 */ "                         failed: [failed, expired]}}",
    /* 41 */ "  mail:",
    /* 42 */ "    kind: mail",
    /* 43 */ "    from: \"Saltmarsh Lane <sessions@clinic.example>\"",
    /* 44 */
    "    smtp: {url: \"smtps://mail.example:465\", user: sessions, password: "
    "\"{secret:mail.key}\"}",
    /* 45 */
    "    imap: {url: \"imaps://mail.example:993/INBOX\", user: sessions, password: "
    "\"{secret:mail.key}\", every: 60s}",
};

char *settings_text(size_t line, const char *instead)
{
    GString *text = g_string_new(NULL);

    for (size_t i = 1; i <= G_N_ELEMENTS(SETTINGS); i++) {
        const char *written = i == line ? instead : SETTINGS[i - 1];
        if (written != NULL) g_string_append_printf(text, "%s\n", written);
    }
    return g_string_free(text, FALSE);
}

char *settings_plain(const char *name, const char *clinic, const char *sections)
{
    return g_strdup_printf("clinic:\n"
                           "  name: %s\n"
                           "  zone: Europe/London\n"
                           "  language: en\n"
                           "  phone: \"+442079460100\"\n"
                           "  emergency: \"999\"\n"
                           "  country_code: \"44\"\n"
                           "  hours: {mon-fri: \"08:30-17:30\"}\n"
                           "  digest: {to: [desk@clinic.example]}\n"
                           "%s"
                           "duty: [{name: R. Okafor, sms: \"+442079460190\"}]\n"
                           "gateways: {spool: {kind: spool}}\n"
                           "%s",
                           name, clinic, sections);
}
