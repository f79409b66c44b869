/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/site_gateway.h"

static const char *const CLINIC =
    "clinic:\n"
    "  name: Reedbank Physiotherapy\n"
    "  zone: Europe/London\n"
    "  language: en\n"
    "  phone: \"+442079460100\"\n"
    "  after_hours_phone: \"+442079460199\"\n"
    "  emergency: \"999\"\n"
    "  crisis: \"+442079460116\"\n"
    "  country_code: \"44\"\n"
    "  hours: {mon-fri: \"08:30-17:30\"}\n"
    "  quiet: \"21:00-08:00\"\n"
    "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
    "duty:\n"
    "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
    "  - {name: J. Lindqvist, sms: \"+442079460191\", after: 15min}\n"
    "again: 30min\n"
    "reminders: {ends: 3h, nudge_after: 4h, silent_after: 20h}\n"
    "hooks: {listen: \"127.0.0.1:%d\"}\n"
    "gateways:\n"
    "  post:\n"
    "    kind: mail\n"
    "    from: \"Reedbank <sessions@clinic.example>\"\n"
    "    smtp: {url: \"smtp://127.0.0.1:%d\"}\n"
    "%s" /* imap */
    "  texts:\n"
    "    kind: http-sms\n";

#define POLL                                                                                       \
    "    poll: {url: \"http://127.0.0.1:@/inbox?after={cursor}\", every: 60s,\n"                   \
    "           items: /data/items, id: /uid, from: /who/msisdn, text: /content, at: /received,\n" \
    "           cursor: /data/after}\n"

#define RECEIPTS                                                                                   \
    "    receipts: {webhook: {path: /receipts, id: /ref/id, status: /state,\n"                     \
    "               delivered: [DELIVRD], failed: [UNDELIV, EXPIRED]}}\n"

static const struct {
    const char *yaml; /* every @ becomes the stand-in's port */
    StandInMap map;
} SPEECHES[] = {
    [SPEAKS_JSON] =
        {"    send:\n"
         "      url: http://127.0.0.1:@/v3/dispatch\n"
         "      headers: {X-Key: \"{secret:texts.key}\"}\n"
         "      json: {batch: [{rcpt: [\"{to}\"], content: {plain: \"{text}\"}, ours: \"{id}\"}],\n"
         "             flash: false, ttl: 600}\n"
         "      accepted: {status: [200, 201], id: /result/0/uid}\n"
         "      refused: {status: [410, 422], reason: /problem/why}\n" POLL
         "    webhook: {path: /in/texts, id: /msg/uid, from: /msg/who, text: /msg/content,\n"
         "              at: /msg/when, signature: none}\n" RECEIPTS,
         {"json:/batch/0/ours", "json:/batch/0/rcpt/0", "json:/batch/0/content/plain",
          "{\"result\":[{\"uid\":%d}]}"}},
    [SPEAKS_FORM] =
        {"    takes_key: true\n"
         "    send:\n"
         "      url: http://127.0.0.1:@/send\n"
         "      headers: {Authorization: \"Bearer {secret:texts.key}\",\n"
         "                Idempotency-Key: \"{id}\"}\n"
         "      form: {To: \"{to}\", Body: \"{text}\"}\n"
         "      accepted: {status: [200, 201], id: /sid}\n"
         "      refused: {status: 422, reason: /problem/why}\n" POLL
         "    webhook: {path: /in/texts, id: /Sid, from: /From, text: /Body,\n"
         "              signature: {scheme: hmac-sha256, header: X-Sign, encoding: base64,\n"
         "                          prefix: \"v=\", secret: \"{secret:texts.hmac}\"}}\n" RECEIPTS,
         {"header:idempotency-key", "form:To", "form:Body", "{\"sid\":\"SM%d\"}"}},
    [SPEAKS_QUERY] =
        {"    send:\n"
         "      url: http://127.0.0.1:@/api\n"
         "      method: GET\n"
         "      query: {n: \"{to}\", m: \"{text}\", r: \"{id}\", k: \"{secret:texts.key}\"}\n"
         "      accepted: {status: 201}\n"
         "      refused: {status: 422}\n"
         "    webhook: {path: /in/texts, id: /id, from: /from, text: /text,\n"
         "              signature: {scheme: token, header: X-Token,\n"
         "                          secret: \"{secret:texts.hmac}\"}}\n",
         {"query:r", "query:n", "query:m", "ok %d"}},
    [SPEAKS_SIGNED] =
        {"    send:\n"
         "      url: http://127.0.0.1:@/send\n"
         "      json: {to: \"{to}\", text: \"{text}\", ref: \"{id}\"}\n"
         "      accepted: {status: 201, id: /id}\n"
         "      refused: {status: 422}\n"
         "    webhook: {path: /in/texts, id: /id, from: /from, text: /text,\n"
         "              signature: {scheme: standard-webhooks, secret: \"{secret:texts.hook}\"}}\n",
         {"json:/ref", "json:/to", "json:/text", "{\"id\":\"m%d\"}"}},
};

const StandInMap *speech_map(Speech speech)
{
    return &SPEECHES[speech].map;
}

void site_use(Site *site, StandIn *stand_in, Speech speech, int hooks_port)
{
    site_use_mailbox(site, stand_in, speech, hooks_port, 0);
}

void site_use_mailbox(Site *site, StandIn *stand_in, Speech speech, int hooks_port, int imap_port)
{
    site_use_servers(site, stand_in, speech, hooks_port, imap_port, stand_in_smtp_port(stand_in));
}

void site_use_servers(Site *site, StandIn *stand_in, Speech speech, int hooks_port, int imap_port,
                      int smtp_port)
{
    g_autofree char *imap =
        imap_port == 0
            ? g_strdup("")
            : g_strdup_printf("    imap: {url: \"imap://127.0.0.1:%d/INBOX\", user: sessions,\n"
                              "           password: \"{secret:mail.key}\", every: 60s}\n",
                              imap_port);
    g_autofree char *port = g_strdup_printf("%d", stand_in_port(stand_in));
    g_auto(GStrv) parts = g_strsplit(SPEECHES[speech].yaml, "@", -1);
    g_autofree char *gateway = g_strjoinv(port, parts);
    g_autofree char *clinic = g_strdup_printf(CLINIC, hooks_port, smtp_port, imap);
    g_autofree char *yaml = g_strconcat(clinic, gateway, NULL);

    site_secret(site, "texts.key", "key-for-tests\n");
    site_secret(site, "mail.key", "key-for-tests\n");
    site_secret(site, "texts.hmac", HOOK_KEY);
    site_secret(site, "texts.hook", HOOK_SECRET);
    site_settings(site, yaml);
}

static char *add_client(Site *site, json_t *body, const char *at)
{
    long status;
    json_t *answer = site_call(site, "POST", "/clients", body, &status);
    g_assert_cmpint(status, ==, 200);
    char *id = g_strdup(json_string_value(json_object_get(answer, "client")));
    json_decref(answer);
    g_autofree char *screen = g_strdup_printf("/clients/%s/screen", id);
    json_decref(site_call(
        site, "POST", screen,
        json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", true), &status));
    g_assert_cmpint(status, ==, 200);
    g_autofree char *plan = g_strdup_printf("/clients/%s/plan", id);
    json_decref(site_call(site, "POST", plan,
                          json_pack("{s:s, s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at",
                                    at, "angle_deg", "62", "felt", "thigh"),
                          &status));
    g_assert_cmpint(status, ==, 200);
    return id;
}

char *site_client(Site *site, const char *phone, const char *at)
{
    return add_client(site,
                      json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada N.", "zone",
                                "Europe/London", "language", "en", "channel", "sms", "phone", phone,
                                "consent", "sms: signed form, R. Okafor, 2026-03-01"),
                      at);
}

char *site_mail_client(Site *site, const char *email, const char *at)
{
    return add_client(site,
                      json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada N.", "zone",
                                "Europe/London", "language", "en", "channel", "email", "email",
                                email, "consent", "email: signed form, R. Okafor, 2026-03-01"),
                      at);
}
