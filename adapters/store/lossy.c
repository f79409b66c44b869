/* SPDX-License-Identifier: Apache-2.0 */
/* Statements stay those of the driver below; only the table of their calls is another, which has a step of its own. */
#include "adapters/store/lossy.h"

/* A list of texts between which \x1f lies, as rows. */
#define AMONG                                                                                      \
    "IN (SELECT value FROM json_each('[' || replace(json_quote(?1), '\\u001f', '\",\"') || ']'))"

typedef struct Lossy Lossy;

typedef struct {
    StatementCalls calls; /* first: what a statement points to */
    const StatementCalls *below;
    Lossy *lossy;
} LossyCalls;

struct Lossy {
    Driver driver; /* first: the driver is the lossy one */
    Driver *below;
    Dialect dialect;
    LossyCalls statement;
    int points_left; /* 0: it stays */
    bool held;
    bool away;
    bool has_lost;
};

/* One more point was reached: false where nothing answers. */
static bool reach(Lossy *lossy)
{
    if (!lossy->held && lossy->points_left > 0 && --lossy->points_left == 0)
        lossy->away = lossy->has_lost = true;
    return !lossy->away;
}

static Step take(Statement *statement, Step (*step)(Statement *))
{
    const LossyCalls *calls = (const LossyCalls *)statement->calls;
    bool first = !calls->below->is_busy(statement);

    if (first ? !reach(calls->lossy) : calls->lossy->away) return STEP_ERROR;
    Step taken = step(statement);
    if (first && taken == STEP_ROW)
        reach(calls->lossy); /* the row has come; what follows it does not */
    return taken;
}

static Step step(Statement *statement)
{
    return take(statement, ((const LossyCalls *)statement->calls)->below->step);
}

static Step quiet(Statement *statement)
{
    return take(statement, ((const LossyCalls *)statement->calls)->below->quiet);
}

static Statement *twin(Statement *statement);

/* All of a driver's statements have the same calls. */
static Statement *wrap(Lossy *lossy, Statement *statement)
{
    if (statement == NULL) return NULL;
    lossy->statement.below = statement->calls;
    lossy->statement.calls = *statement->calls;
    lossy->statement.calls.step = step;
    lossy->statement.calls.quiet = quiet;
    lossy->statement.calls.twin = twin;
    statement->calls = &lossy->statement.calls;
    return statement;
}

static Statement *twin(Statement *statement)
{
    const LossyCalls *calls = (const LossyCalls *)statement->calls;

    return wrap(calls->lossy, calls->below->twin(statement));
}

static Statement *prepare(Driver *driver, const char *sql)
{
    Lossy *lossy = (Lossy *)driver;

    return wrap(lossy, lossy->below->calls->prepare(lossy->below, sql));
}

static Statement *walk(Driver *driver, const char *sql)
{
    Lossy *lossy = (Lossy *)driver;

    return wrap(lossy, lossy->below->calls->walk(lossy->below, sql));
}

static StoreStatus error(Driver *driver, char **problem)
{
    Lossy *lossy = (Lossy *)driver;

    if (!lossy->away) return lossy->below->calls->error(lossy->below, problem);
    *problem = g_strdup("no database: it does not answer");
    return STORE_AWAY;
}

static void roll_back(Driver *driver)
{
    Lossy *lossy = (Lossy *)driver;

    lossy->away = false;
    lossy->below->calls->roll_back(lossy->below);
}

static bool has_column(Driver *driver, const char *table, const char *column)
{
    Lossy *lossy = (Lossy *)driver;

    return lossy->below->calls->has_column(lossy->below, table, column);
}

static void close_driver(Driver *driver)
{
    Lossy *lossy = (Lossy *)driver;

    lossy->below->calls->close(lossy->below);
    g_free(lossy);
}

Driver *lossy_driver_new(Driver *below, bool far)
{
    static const DriverCalls CALLS = {.prepare = prepare,
                                      .walk = walk,
                                      .error = error,
                                      .roll_back = roll_back,
                                      .has_column = has_column,
                                      .close = close_driver};
    Lossy *lossy = g_new0(Lossy, 1);

    g_assert(below->calls->begin == NULL && below->calls->commit == NULL);
    lossy->dialect = *below->dialect;
    lossy->dialect.far = far;
    lossy->dialect.among = AMONG;
    lossy->driver = (Driver){.calls = &CALLS, .dialect = &lossy->dialect};
    lossy->below = below;
    lossy->statement.lossy = lossy;
    return &lossy->driver;
}

void lossy_lose_at(Driver *driver, int n)
{
    Lossy *lossy = (Lossy *)driver;

    lossy->points_left = n;
    lossy->has_lost = false;
}

void lossy_hold(Driver *driver, bool held)
{
    ((Lossy *)driver)->held = held;
}

bool lossy_has_lost(const Driver *driver)
{
    return ((const Lossy *)driver)->has_lost;
}
