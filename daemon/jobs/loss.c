/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/loss.h"

#include <math.h>
#include <string.h>

#include "adapters/store/find_record.h"
#include "core/practice/loss.h"
#include "daemon/jobs/alert.h"

/* The place of the reading that an alert was about, or 0. */
static guint place_of(const GPtrArray *rows, const char *id)
{
    for (guint i = 0; i < rows->len; i++)
        if (g_strcmp0(row_text(rows->pdata[i], MEASURE_ID), id) == 0) return i;
    return 0;
}

/* The first reading that counts: the last that a closed alert of at least that class was about. */
static guint since(Job *job, const Person *person, const GPtrArray *rows, AlertClass class)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, person->id, true);
    guint from = 0;

    for (guint i = 0; i < alerts->len; i++) {
        const Row *alert = alerts->pdata[i];
        if (g_strcmp0(row_text(alert, ALERT_KIND), LOSS_MATTER) == 0 &&
            g_strcmp0(row_text(alert, ALERT_STATE), "closed") == 0 &&
            alert_class_from_name(row_text(alert, ALERT_CLASS)) <= class)
            from = MAX(from, place_of(rows, row_text(alert, ALERT_CAUSE)));
    }
    return from;
}

static double tenth(double value)
{
    return round(value * 10) / 10;
}

static char *open_alert(Job *job, const Person *person, const Measure *measure,
                        const GPtrArray *rows, const Loss *loss)
{
    const Row *best = rows->pdata[loss->beside], *last = rows->pdata[rows->len - 1];
    bool sign = loss->kind == LOSS_SIGN;
    g_autofree char *rule = g_strdup_printf("loss of %s in %s", measure->key, measure->unit);
    g_autofree char *from = g_strdup_printf("%g, now %g %s", row_real(best, MEASURE_VALUE),
                                            row_real(last, MEASURE_VALUE), measure->unit);
    json_t *reasons =
        json_pack("[{s:s, s:f, s:f, s:b}, o]", "rule", rule, "value", tenth(loss->loss), "limit",
                  tenth(loss->limit), "met", true, reason_words("measured before", from, NULL));
    char *alert = alert_open(job, person,
                             &(Opening){.kind = LOSS_MATTER,
                                        .class = sign ? ALERT_TODAY : ALERT_FOR_DIGEST,
                                        .hold = sign,
                                        .cause = row_text(last, MEASURE_ID),
                                        .reasons = reasons});

    json_decref(reasons);
    return alert;
}

/* What the readings amount to, from the one numbered from on. */
static Loss look(const Measure *measure, const GPtrArray *rows, guint from)
{
    g_autofree MeasureReading *readings = g_new0(MeasureReading, rows->len);

    for (guint i = 0; i < rows->len; i++) {
        const char *method = row_text(rows->pdata[i], MEASURE_METHOD);
        readings[i] =
            (MeasureReading){.value = row_real(rows->pdata[i], MEASURE_VALUE),
                             .method = method != NULL ? measure_method(measure, method) : NULL,
                             .landmark = row_text(rows->pdata[i], MEASURE_LANDMARK)};
        if (readings[i].method == NULL) return (Loss){.beside = -1};
    }
    return loss_of(measure, readings, (int)rows->len, (int)from);
}

char *loss_heed(Job *job, const Person *person, const Measure *measure, const GPtrArray *rows)
{
    if (measure->loss_sign <= 0 || rows->len < 2) return NULL;
    Loss loss = look(measure, rows, since(job, person, rows, ALERT_TODAY));
    if (loss.kind != LOSS_SIGN)
        loss = look(measure, rows, since(job, person, rows, ALERT_FOR_DIGEST));
    return loss.kind != LOSS_NONE ? open_alert(job, person, measure, rows, &loss) : NULL;
}
