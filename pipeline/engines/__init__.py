"""Where a group outgrows one machine: canonical tables pooled as Parquet, the same SQL text on Apache Spark."""
