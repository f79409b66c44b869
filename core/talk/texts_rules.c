/* SPDX-License-Identifier: Apache-2.0 */
/* Every text that osier writes, as a table. What a client reads holds no diagnosis, surname, link
 * or body part; what a clinician reads holds initials and codes. */
#include "core/talk/texts.h"

/* What every text to a client may use: the clinic's settings. phone is the number that answers at
 * that hour. */
#define CLINIC "clinic clinic_phone after_hours_phone phone emergency crisis"
#define PAPER "clinic clinic_phone after_hours_phone emergency"
#define ALERT "clinic initials client_code kind code"

static const TextRule RULES[] = {
    /* what osier starts */
    {"welcome", TEXT_SMS, CLINIC, "clinic"},
    {"reminder", TEXT_SMS, CLINIC, "clinic"},
    {"reminder-shared", TEXT_OWN_SMS, CLINIC " letter", "clinic letter"},
    {"reminder-timed", TEXT_SMS, CLINIC " time", "clinic time"},
    {"nudge", TEXT_SMS, CLINIC, "clinic"},
    {"nudge-shared", TEXT_OWN_SMS, CLINIC " letter", "clinic letter"},
    {"checkin", TEXT_SMS, CLINIC, "clinic"},
    {"checkin-shared", TEXT_OWN_SMS, CLINIC " letter", "clinic letter"},
    {"goodbye", TEXT_SMS, CLINIC, "clinic clinic_phone"},

    /* questions and answers */
    {"question-pain", TEXT_SMS, CLINIC, ""},
    {"question-pain-shared", TEXT_OWN_SMS, CLINIC " letter", "letter"},
    {"question-high", TEXT_SMS, CLINIC " value", "value"},
    {"question-high-shared", TEXT_OWN_SMS, CLINIC " value letter", "value letter"},
    {"question-unclear", TEXT_SMS, CLINIC, ""},
    {"question-unclear-shared", TEXT_OWN_SMS, CLINIC " letter", "letter"},
    {"question-confirm", TEXT_SMS, CLINIC " intensity pain", "intensity pain"},
    {"question-confirm-shared", TEXT_OWN_SMS, CLINIC " intensity pain letter",
     "intensity pain letter"},
    {"question-away", TEXT_OWN_SMS, CLINIC, "clinic"},
    {"after-break", TEXT_OWN_SMS, CLINIC, "clinic clinic_phone"},
    {"ease-off", TEXT_OWN_SMS, CLINIC " value", ""},
    {"stopped", TEXT_SMS, CLINIC, "clinic"},
    {"started", TEXT_OWN_SMS, CLINIC, "clinic"},
    {"help", TEXT_SMS, CLINIC, "clinic clinic_phone emergency"},

    /* warning signs, class now: heard at once, and heard late */
    {"safety-heart", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-heart-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-stroke", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-stroke-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-cauda", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-cauda-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-crisis", TEXT_SMS, CLINIC, "crisis emergency"},
    {"safety-crisis-late", TEXT_SMS, CLINIC, "crisis emergency"},
    {"safety-pain-now", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-pain-now-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-pain-unsaid", TEXT_SMS, CLINIC " value", "emergency phone value"},
    {"safety-pain-unsaid-late", TEXT_SMS, CLINIC " value", "emergency phone value"},
    {"safety-pain-unsaid-shared", TEXT_SMS, CLINIC " value letter", "emergency phone value letter"},
    {"safety-pain-unsaid-late-shared", TEXT_SMS, CLINIC " value letter",
     "emergency phone value letter"},

    /* class today: in the clinic's hours, outside them, and heard late */
    {"safety-clot", TEXT_SMS, CLINIC, "emergency clinic_phone"},
    {"safety-clot-after", TEXT_SMS, CLINIC, "emergency after_hours_phone"},
    {"safety-clot-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-fracture", TEXT_SMS, CLINIC, "emergency clinic_phone"},
    {"safety-fracture-after", TEXT_SMS, CLINIC, "emergency after_hours_phone"},
    {"safety-fracture-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-nerve", TEXT_SMS, CLINIC, "emergency clinic_phone"},
    {"safety-nerve-after", TEXT_SMS, CLINIC, "emergency after_hours_phone"},
    {"safety-nerve-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-fall", TEXT_SMS, CLINIC, "emergency clinic_phone"},
    {"safety-fall-after", TEXT_SMS, CLINIC, "emergency after_hours_phone"},
    {"safety-fall-late", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-pain", TEXT_SMS, CLINIC, "emergency clinic_phone"},
    {"safety-pain-after", TEXT_SMS, CLINIC, "emergency after_hours_phone"},
    {"safety-pain-late", TEXT_SMS, CLINIC, "emergency phone"},

    /* to someone who had stopped: one, and no more */
    {"safety-stopped", TEXT_SMS, CLINIC, "emergency phone"},
    {"safety-stopped-crisis", TEXT_SMS, CLINIC, "crisis emergency"},
    /* only once an alert was accepted */
    {"told", TEXT_SMS, CLINIC, ""},

    /* what the clinician decided */
    {"outcome-resume", TEXT_OWN_SMS, CLINIC, "clinic"},
    {"outcome-step-back", TEXT_OWN_SMS, CLINIC, "clinic"},
    {"outcome-refer", TEXT_OWN_SMS, CLINIC, "clinic clinic_phone"},
    {"outcome-end", TEXT_OWN_SMS, CLINIC, "clinic"},
    {"moved-on", TEXT_OWN_SMS, CLINIC, "clinic"},
    {"moved-on-days", TEXT_OWN_SMS, CLINIC " value", "clinic value"},
    {"moved-back-days", TEXT_OWN_SMS, CLINIC " value", "clinic value"},
    {"resumed", TEXT_OWN_SMS, CLINIC, "clinic"},

    /* to clinicians */
    {"alert-now", TEXT_SMS, ALERT, "initials client_code kind code"},
    {"alert-today", TEXT_SMS, ALERT, "initials client_code kind code"},
    {"alert-again", TEXT_SMS, ALERT, "initials client_code kind code"},
    {"alert-again-now", TEXT_SMS, ALERT, "initials client_code kind code"},
    {"alert-overdue", TEXT_SMS, ALERT, "initials client_code kind code"},
    {"alert-more", TEXT_SMS, ALERT, "initials client_code"},
    {"alert-taken", TEXT_SMS, ALERT, "initials client_code"},
    {"alert-taken-elsewhere", TEXT_SMS, ALERT " by", "initials client_code by"},
    {"alert-not-taken", TEXT_SMS, ALERT, "initials client_code"},
    {"alert-take-refused", TEXT_SMS, "clinic clinic_phone code", ""},

    /* what {kind} says */
    {"kind-crisis", TEXT_PART, "", ""},
    {"kind-heart", TEXT_PART, "", ""},
    {"kind-stroke", TEXT_PART, "", ""},
    {"kind-cauda", TEXT_PART, "", ""},
    {"kind-clot", TEXT_PART, "", ""},
    {"kind-fracture", TEXT_PART, "", ""},
    {"kind-nerve", TEXT_PART, "", ""},
    {"kind-fall", TEXT_PART, "", ""},
    {"kind-pain", TEXT_PART, "value", "value"},
    {"kind-pain-some", TEXT_PART, "", ""},
    {"kind-pain-unsaid", TEXT_PART, "value", "value"},
    {"kind-strong-stretch", TEXT_PART, "value", "value"},
    {"kind-missed", TEXT_PART, "value", "value"},
    {"kind-stopped", TEXT_PART, "", ""},
    {"kind-undeliverable", TEXT_PART, "", ""},
    {"kind-digest-lost", TEXT_PART, "", ""},
    {"kind-unread", TEXT_PART, "", ""},
    {"kind-suspended", TEXT_PART, "", ""},
    {"kind-review", TEXT_PART, "", ""},
    {"kind-away", TEXT_PART, "", ""},
    {"kind-consent", TEXT_PART, "", ""},
    {"kind-screen", TEXT_PART, "", ""},
    {"kind-height-loss", TEXT_PART, "value", "value"},
    {"kind-gateway", TEXT_PART, "", ""},
    {"kind-backup", TEXT_PART, "", ""},
    {"kind-two-senders", TEXT_PART, "", ""},
    {"kind-other", TEXT_PART, "", ""},

    /* mail */
    {"calendar-session", TEXT_LINE, "", ""}, /* the title of every session in the feed */
    {"checkin-words", TEXT_LINE, "", ""},    /* words that may name the letter of an answer */
    {"subject-welcome", TEXT_LINE, "clinic", ""},
    {"subject-reminder", TEXT_LINE, "clinic", ""},
    {"subject-answer", TEXT_LINE, "clinic", ""},
    {"subject-safety", TEXT_LINE, "clinic", ""},
    {"subject-alert", TEXT_LINE, "clinic initials client_code kind", "client_code"},
    {"subject-digest", TEXT_LINE, "clinic from to", "from to"},
    {"reminder-mail", TEXT_MAIL, CLINIC " time", "clinic clinic_phone"},
    {"reminder-mail-plain", TEXT_MAIL, CLINIC " time stage movements cautions",
     "clinic clinic_phone stage movements cautions"},
    {"unsubscribe-ask", TEXT_MAIL, CLINIC, "clinic clinic_phone"},
    {"unsubscribe-button", TEXT_LINE, "", ""},
    {"alert-mail", TEXT_MAIL, ALERT " at", "initials client_code kind"},

    /* the digest; every count stands in a pattern that needs no plural */
    {"digest-heading", TEXT_LINE, "clinic from to", "from to"},
    {"digest-practised", TEXT_LINE, "value total", "value total"},
    {"digest-need-call", TEXT_LINE, "value", "value"},
    {"digest-ready", TEXT_LINE, "value", "value"},
    {"digest-calls", TEXT_LINE, "", ""},
    {"digest-no-calls", TEXT_LINE, "", ""},
    {"digest-clients", TEXT_LINE, "", ""},
    {"digest-clinic", TEXT_LINE, "", ""},
    {"digest-column-client", TEXT_LINE, "", ""},
    {"digest-column-sessions", TEXT_LINE, "", ""},
    {"digest-column-felt", TEXT_LINE, "", ""},
    {"digest-column-matters", TEXT_LINE, "", ""},
    {"digest-done", TEXT_LINE, "done prescribed", "done prescribed"},
    {"digest-partly", TEXT_LINE, "value", "value"},
    {"digest-not", TEXT_LINE, "value", "value"},
    {"digest-silent", TEXT_LINE, "value", "value"},
    {"digest-unasked", TEXT_LINE, "value", "value"},
    {"digest-excused", TEXT_LINE, "value", "value"},
    {"digest-no-sessions", TEXT_LINE, "", ""},
    {"digest-stretch", TEXT_LINE, "value", "value"},
    {"digest-pain", TEXT_LINE, "value", "value"},
    {"digest-no-pain", TEXT_LINE, "", ""},
    {"digest-rising", TEXT_LINE, "", ""},
    {"digest-steady", TEXT_LINE, "", ""},
    {"digest-falling", TEXT_LINE, "", ""},
    {"digest-open", TEXT_LINE, "", ""},
    {"digest-taken", TEXT_LINE, "by", "by"},
    {"digest-closed", TEXT_LINE, "value", "value"},
    {"digest-outcome-resume", TEXT_LINE, "", ""},
    {"digest-outcome-step-back", TEXT_LINE, "", ""},
    {"digest-outcome-refer", TEXT_LINE, "", ""},
    {"digest-outcome-end", TEXT_LINE, "", ""},
    {"digest-ready-move-on", TEXT_LINE, "", ""},
    {"digest-ready-stay", TEXT_LINE, "", ""},
    {"digest-ready-step-back", TEXT_LINE, "", ""},
    {"digest-bar-stop", TEXT_LINE, "", ""},
    {"digest-bar-pause", TEXT_LINE, "", ""},
    {"digest-bar-hold", TEXT_LINE, "", ""},
    {"digest-bar-suspend", TEXT_LINE, "", ""},
    {"digest-bar-end", TEXT_LINE, "", ""},
    {"digest-needs", TEXT_LINE, "value", "value"},
    {"digest-unread", TEXT_LINE, "value", "value"},
    {"digest-glance", TEXT_LINE, "value", "value"},
    {"digest-settled", TEXT_LINE, "value missed", "value missed"},
    {"digest-away", TEXT_LINE, "value", "value"},
    {"digest-segments", TEXT_LINE, "value", "value"},
    {"digest-cost", TEXT_LINE, "value", "value"},
    {"digest-decimal-mark", TEXT_LINE, "", ""},

    /* pictures */
    {"picture-door", TEXT_MAIL, "", ""},
    {"picture-ball", TEXT_MAIL, "", ""},
    {"picture-heel", TEXT_MAIL, "", ""},
    {"picture-strap", TEXT_MAIL, "", ""},
    {"picture-lying", TEXT_MAIL, "", ""},
    {"picture-chair-strap", TEXT_MAIL, "", ""},
    {"picture-numbers-door", TEXT_MAIL, "angle reach", "angle reach"},
    {"picture-numbers-ball", TEXT_MAIL, "angle reach", "angle reach"},
    {"picture-numbers-heel", TEXT_MAIL, "angle reach", "angle reach"},
    {"picture-numbers-strap", TEXT_MAIL, "angle", "angle"},
    {"picture-course", TEXT_LINE, "from to", "from to"},
    {"picture-stretch", TEXT_LINE, "", ""},
    {"picture-stretch-week", TEXT_LINE, "", ""},
    {"picture-pain", TEXT_LINE, "", ""},
    {"picture-pain-week", TEXT_LINE, "", ""},
    {"picture-range", TEXT_LINE, "", ""},
    {"picture-range-words", TEXT_LINE, "side from to", "side from to"},
    {"picture-left", TEXT_LINE, "", ""},
    {"picture-right", TEXT_LINE, "", ""},
    {"picture-goal", TEXT_LINE, "", ""},
    {"picture-sessions", TEXT_LINE, "", ""},
    {"picture-adherence", TEXT_LINE, "value", ""},
    {"picture-adherence-least", TEXT_LINE, "value", "value"},
    {"picture-of", TEXT_LINE, "value total", "value total"},
    {"state-done", TEXT_LINE, "", ""},
    {"state-partly", TEXT_LINE, "", ""},
    {"state-not", TEXT_LINE, "", ""},
    {"state-silent", TEXT_LINE, "", ""},
    {"state-unasked", TEXT_LINE, "", ""},
    {"state-excused", TEXT_LINE, "", ""},

    /* paper */
    {"paper-months", TEXT_LINE, "", ""}, /* twelve, separated by spaces */
    {"paper-months-short", TEXT_LINE, "", ""},
    {"paper-day", TEXT_LINE, "day month year", "day month"},
    {"paper-range", TEXT_LINE, "from to", "from to"},
    {"paper-dose-each", TEXT_LINE, "", ""},
    {"paper-dose-times", TEXT_LINE, "value", "value"},
    {"paper-dose-rounds", TEXT_LINE, "rounds value", "rounds value"},
    {"paper-dose-hold", TEXT_LINE, "value", "value"},
    {"paper-dose-rest", TEXT_LINE, "value", "value"},
    {"paper-dose-relaxed", TEXT_MAIL, "value intensity", "value intensity"},
    {"paper-dose-left", TEXT_LINE, "", ""},
    {"paper-dose-right", TEXT_LINE, "", ""},
    {"paper-dose-lower", TEXT_LINE, "", ""},
    {"paper-and", TEXT_LINE, "", ""},
    {"paper-page", TEXT_LINE, "value total", "value total"},
    {"paper-footer", TEXT_LINE, PAPER, "clinic_phone emergency"},

    /* the hand-out */
    {"paper-handout", TEXT_LINE, "", ""},
    {"paper-for", TEXT_LINE, "name", "name"},
    {"paper-every-day", TEXT_LINE, "time", "time"},
    {"paper-days", TEXT_LINE, "value time", "value time"},
    {"paper-stop-short", TEXT_MAIL, PAPER, "clinic_phone"},
    {"paper-position", TEXT_LINE, "", ""},
    {"paper-set-up", TEXT_LINE, "", ""},
    {"paper-no-set-up", TEXT_MAIL, PAPER, "clinic_phone"},
    {"paper-getting-in", TEXT_LINE, "", ""},
    {"paper-do", TEXT_LINE, "", ""},
    {"paper-how-much", TEXT_LINE, "", ""},
    {"paper-feel", TEXT_LINE, "", ""},
    {"paper-cues", TEXT_LINE, "", ""},
    {"paper-avoid", TEXT_LINE, "", ""},
    {"paper-getting-out", TEXT_LINE, "", ""},
    {"paper-strong", TEXT_LINE, "", ""},
    {"paper-strong-text", TEXT_MAIL, "", ""},
    {"paper-stop", TEXT_LINE, "", ""},
    {"paper-ring", TEXT_MAIL, PAPER, "clinic_phone emergency"},
    {"paper-ring-after", TEXT_MAIL, PAPER, "clinic_phone after_hours_phone emergency"},
    {"paper-letters", TEXT_LINE, "", ""},
    {"paper-letters-text", TEXT_MAIL, PAPER, ""},
    {"paper-letters-clinician", TEXT_LINE, PAPER, "clinic_phone"},
    {"paper-answers", TEXT_LINE, "", ""},
    {"paper-answers-from", TEXT_MAIL, PAPER " number", "number"},
    {"paper-answers-mail", TEXT_MAIL, PAPER " number", "number"},
    {"paper-answers-phone", TEXT_MAIL, PAPER, "clinic_phone"},
    {"paper-answers-text", TEXT_MAIL, PAPER, ""},
    {"paper-answers-example", TEXT_LINE, "", ""},
    {"paper-answers-shared", TEXT_MAIL, "letter", "letter"},
    {"paper-answers-done", TEXT_MAIL, "", ""},
    {"paper-answers-stretch", TEXT_MAIL, "", ""},
    {"paper-answers-pain", TEXT_MAIL, "", ""},
    {"paper-answers-words", TEXT_MAIL, PAPER, "emergency"},
    {"paper-answers-stop", TEXT_MAIL, PAPER, ""},

    /* the summary for the file */
    {"record-title", TEXT_LINE, "name", "name"},
    {"record-more", TEXT_LINE, "value", "value"},
    {"record-born", TEXT_LINE, "", ""},
    {"record-phone", TEXT_LINE, "", ""},
    {"record-mail", TEXT_LINE, "", ""},
    {"record-texts", TEXT_LINE, "", ""},
    {"record-points", TEXT_LINE, "value", "value"},
    {"record-needs", TEXT_LINE, "", ""},
    {"record-clinician", TEXT_LINE, "", ""},
    {"record-now", TEXT_LINE, "", ""},
    {"record-consent", TEXT_LINE, "", ""},
    {"record-screen", TEXT_LINE, "", ""},
    {"record-floor", TEXT_LINE, "", ""},
    {"record-no-floor", TEXT_LINE, "", ""},
    {"record-clear", TEXT_LINE, "", ""},
    {"record-stages", TEXT_LINE, "", ""},
    {"record-stage", TEXT_LINE, "", ""},
    {"record-course", TEXT_LINE, "", ""},
    {"record-measures", TEXT_LINE, "", ""},
    {"record-alerts", TEXT_LINE, "", ""},
    {"record-words", TEXT_LINE, "", ""},
    {"record-none", TEXT_LINE, "", ""},
    {"record-date", TEXT_LINE, "", ""},
    {"record-what", TEXT_LINE, "", ""},
    {"record-by", TEXT_LINE, "", ""},
    {"record-side", TEXT_LINE, "", ""},
    {"record-value", TEXT_LINE, "", ""},
    {"record-outcome", TEXT_LINE, "", ""},
    {"record-from", TEXT_LINE, "", ""},
    {"record-text", TEXT_LINE, "", ""},
    {"record-ours", TEXT_LINE, "", ""},
    {"record-theirs", TEXT_LINE, "", ""},
};

/* A phone number is at most "+" and 15 digits (ITU-T E.164). The rest is common practice. */
static const struct {
    const char *name;
    int width;
} WIDTHS[] = {
    {"clinic", 30}, {"clinic_phone", 16}, {"after_hours_phone", 16},
    {"phone", 16},  {"crisis", 16},       {"emergency", 8},
    {"time", 5},    {"value", 4},         {"intensity", 4},
    {"pain", 4},    {"initials", 6},      {"client_code", 8},
    {"code", 6},    {"kind", 28},         {"by", 24},
    {"from", 10},   {"to", 10},           {"letter", 1},
};

const TextRule *text_rules(size_t *n)
{
    *n = G_N_ELEMENTS(RULES);
    return RULES;
}

const TextRule *text_rule(const char *key)
{
    for (size_t i = 0; i < G_N_ELEMENTS(RULES); i++)
        if (strcmp(RULES[i].key, key) == 0) return &RULES[i];
    return NULL;
}

const TextRule *text_rule_shared(const char *key)
{
    g_autofree char *instead = g_strconcat(key, "-shared", NULL);
    const TextRule *rule = text_rule(instead);

    if (rule == NULL) rule = text_rule(key);
    return rule != NULL && rule->form == TEXT_OWN_SMS ? rule : NULL;
}

int text_width(const char *placeholder)
{
    for (size_t i = 0; i < G_N_ELEMENTS(WIDTHS); i++)
        if (strcmp(WIDTHS[i].name, placeholder) == 0) return WIDTHS[i].width;
    return 0;
}
