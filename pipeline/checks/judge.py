"""Great Expectations' part: it judges every rule over the counts, and looks at the rows of small tables itself.

The only folder that imports great_expectations, and only inside functions: the import takes seconds. Its context
lives in memory, writes no files, shows no bars and sends nothing; its own pages are never made, for they do not
escape what stands in a cell.
"""

import logging
import os
import warnings
from functools import cache

from pipeline.checks.catalogue import Rule
from pipeline.checks.scan import Count

# Great Expectations knows three severities. A row set aside is out of the measures, so the page stands: warning.
SEVERITY = {"stop": "critical", "set_aside": "warning", "flag": "warning", "note": "info"}


def judge(rules: list[Rule], counts: dict[str, Count]) -> dict[str, bool]:
    """Passed or not, for each rule that judged anything: at most its tolerated share failed. A rule that Great
    Expectations could not run is left out.

    Rules with nothing to judge are not asked: Great Expectations would pass them.
    """
    asked = [rule for rule in rules if counts[rule.id].judged]
    if not asked:
        return {}
    import pandas as pd

    summary = pd.DataFrame(
        {
            "rule_id": [rule.id for rule in asked],
            "judged": [counts[rule.id].judged for rule in asked],
            "failed": [counts[rule.id].failed for rule in asked],
        }
    ).convert_dtypes(dtype_backend="pyarrow")
    expect = rule_within_tolerance()
    results = validate(
        summary,
        [
            expect(
                rule_id=rule.id,
                tolerated=rule.tolerated,
                severity=SEVERITY[rule.severity],
                description=rule.sentence,
                meta={"rule": rule.id, "table": rule.table, "level": rule.level, "severity": rule.severity,
                      "why": rule.why, "source": rule.source},
            )
            for rule in asked
        ],
    )  # fmt: skip
    return {rule_of(result): result.success for result in results if not faulty(result)}


def validate(frame, expectations: list) -> list:
    """Results of the expectations over a data frame, in their order.

    Raises RuntimeError where one was dropped as equal to another; one that could not be run is faulty().
    """
    gx, context = quiet_context()
    suite = gx.ExpectationSuite(name="rules", expectations=expectations)
    if len(suite.expectations) != len(expectations):
        raise RuntimeError("Great Expectations dropped a rule as equal to another")
    batch = (
        context.data_sources.add_or_update_pandas("loaded")
        .add_dataframe_asset("rows")
        .add_batch_definition_whole_dataframe("all")
        .get_batch(batch_parameters={"dataframe": frame})
    )
    return batch.validate(suite, result_format="BASIC").results


def rule_of(result) -> str:
    return result.expectation_config.meta["rule"]


def faulty(result) -> bool:
    """Whether the expectation could not be run. One fault stands alone, those of metrics by the metric's name."""
    faults = result.exception_info
    return any(fault.get("raised_exception") for fault in (faults, *faults.values()) if isinstance(fault, dict))


def ready() -> None:
    """Imports Great Expectations, so that a judgement need not wait for it."""
    rule_within_tolerance()


@cache
def quiet_context():
    """Great Expectations and its context in memory, silent."""
    os.environ["GX_ANALYTICS_ENABLED"] = "false"
    logging.getLogger("great_expectations").setLevel(logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import great_expectations as gx
        from great_expectations.data_context.types.base import DataContextConfig, InMemoryStoreBackendDefaults

        nowhere = DataContextConfig(store_backend_defaults=InMemoryStoreBackendDefaults(init_temp_docs_sites=False))
        context = gx.get_context(mode="ephemeral", project_config=nowhere)
    context.variables.progress_bars = {"globally": False}
    return gx, context


@cache
def rule_within_tolerance():
    """The expectation that a rule's failed share is tolerated, over one row of counts a rule."""
    quiet_context()
    from great_expectations.core.metric_domain_types import MetricDomainTypes
    from great_expectations.execution_engine import PandasExecutionEngine
    from great_expectations.expectations.expectation import BatchExpectation
    from great_expectations.expectations.metrics.metric_provider import metric_value
    from great_expectations.expectations.metrics.table_metric_provider import TableMetricProvider

    class RuleCounts(TableMetricProvider):
        """Judged and failed of every rule of the summary."""

        metric_name = "table.rule_counts"

        @metric_value(engine=PandasExecutionEngine)
        def _pandas(cls, execution_engine, metric_domain_kwargs, **_):
            frame, _, _ = execution_engine.get_compute_domain(metric_domain_kwargs, MetricDomainTypes.TABLE)
            return {row.rule_id: (int(row.judged), int(row.failed)) for row in frame.itertuples()}

    class ExpectRuleWithinTolerance(BatchExpectation):
        """Expect at most the tolerated share of a rule's judged rows to have failed; nothing judged is no success."""

        rule_id: str
        tolerated: float
        metric_dependencies = ("table.rule_counts",)
        success_keys = ("rule_id", "tolerated")
        args_keys = ("rule_id", "tolerated")

        def _validate(self, metrics, runtime_configuration=None, execution_engine=None):
            judged, failed = metrics["table.rule_counts"][self.rule_id]
            return {
                "success": judged > 0 and failed <= self.tolerated * judged,
                "result": {"observed_value": failed, "judged": judged},
            }

    return ExpectRuleWithinTolerance
