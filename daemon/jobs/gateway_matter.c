/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/gateway_matter.h"

#include "adapters/store/find_record.h"
#include "daemon/jobs/alert.h"

/* rule is what tells one from the other in the alerts of the record. */
static const struct {
    const char *rule;
    const char *words;
    const char *well;
} MATTERS[] = {
    [GATEWAY_SICK] = {"gateway", "it fails, or refuses everybody; messages wait", "it works again"},
    [GATEWAY_DEAF] = {"gateway not heard",
                      "it has not answered for an hour when it was asked for replies: they do not "
                      "come in. Look at its account, key and address",
                      "it answers again"},
    [GATEWAY_REFUSED] = {"webhooks refused",
                         "for an hour and more all its webhooks were refused, for their signature "
                         "does not hold: the secret may have changed, or what calls is a stranger. "
                         "Compare the secret; replies may be missing",
                         "one was accepted"},
};

static bool is_about(const Row *alert, const char *gateway, GatewayMatter what)
{
    if (g_strcmp0(row_text(alert, ALERT_KIND), "gateway") != 0) return false;
    json_t *reasons = json_loads(row_text(alert, ALERT_REASONS), 0, NULL);
    const json_t *first = json_array_get(reasons, 0);
    bool about =
        g_strcmp0(json_string_value(json_object_get(first, "rule")), MATTERS[what].rule) == 0 &&
        g_strcmp0(json_string_value(json_object_get(first, "value")), gateway) == 0;
    json_decref(reasons);
    return about;
}

void gateway_matter_open(Job *job, const char *gateway, GatewayMatter what)
{
    g_autofree char *cause =
        g_strdup_printf("%s/%s/%" G_GINT64_FORMAT, MATTERS[what].rule, gateway, job->now_ms);
    g_autoptr(GPtrArray) open = find_alerts(job->tx, "clinic", false);
    json_t *reasons = json_array();
    bool known = false;

    json_array_append_new(reasons, reason_words(MATTERS[what].rule, gateway, MATTERS[what].words));
    for (guint i = 0; i < open->len && !known; i++) {
        known = is_about(open->pdata[i], gateway, what);
        if (known)
            tx_append(job->tx, "alert.repeated", row_text(open->pdata[i], ALERT_ID), "osier", NULL,
                      json_pack("{s:s, s:I, s:O}", "cause", cause, "at", (json_int_t)job->now_ms,
                                "reasons", reasons));
    }
    if (!known)
        g_free(alert_open(job, NULL,
                          &(Opening){.kind = "gateway",
                                     .class = ALERT_TODAY,
                                     .cause = cause,
                                     .reasons = reasons,
                                     .apart = true}));
    json_decref(reasons);
}

bool gateway_matter_since(Job *job, const char *gateway, GatewayMatter what, int64_t since_ms)
{
    g_autoptr(GPtrArray) opened = find_alerts_between(job->tx, since_ms, INT64_MAX);

    for (guint i = 0; i < opened->len; i++)
        if (is_about(opened->pdata[i], gateway, what)) return true;
    return false;
}

bool gateway_matter_close(Job *job, const char *gateway, GatewayMatter what)
{
    g_autoptr(GPtrArray) open = find_alerts(job->tx, "clinic", false);
    bool closed = false;

    for (guint i = 0; i < open->len; i++) {
        const char *why;
        if (is_about(open->pdata[i], gateway, what) &&
            alert_close(job, row_text(open->pdata[i], ALERT_ID), "resume", "osier",
                        MATTERS[what].well, &why))
            closed = true;
    }
    return closed;
}
